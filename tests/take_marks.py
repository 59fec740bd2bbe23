"""A mark in colour alone that tells which second of a take a picture shows.

It runs through a strip at the foot of the picture, once in LAP_SECONDS, and a second one once in
the whole take, so that both together name the second. Brightness is not touched: whoever looks at
grey pictures does not see it. Between two pictures that were mixed, its middle is between theirs.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import av
import numpy as np
from av.video.stream import VideoStream
from numpy.typing import NDArray

from take_scenes import HEIGHT, WIDTH, Grey

LAP_SECONDS = 3.0
_MARK = 10  # pixels of colour, half as many as of brightness
_STRIP = 10  # rows of colour, for each of the two marks
_MARGIN = 16
_DOUBT_SECONDS = 0.2
_PLAIN, _FULL = 128, 220
_WAY = WIDTH // 2 - 2 * _MARGIN


def marked(
    path: Path,
    pictures: Iterable[tuple[float, Grey]],
    seconds: float,
    fps: int = 25,
    preset: str = "medium",
) -> Path:
    """Write grey pictures as film with both marks in the red difference."""
    with av.open(str(path), "w") as file:
        stream = file.add_stream("libx264", rate=fps, options={"crf": "14", "preset": preset})
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        for number, (second, picture) in enumerate(pictures):
            red = np.full((HEIGHT // 2, WIDTH // 2), float(_PLAIN))
            _lay(red, HEIGHT // 2 - _STRIP, (second / LAP_SECONDS) % 1.0)
            _lay(red, HEIGHT // 2 - 2 * _STRIP, second / seconds)
            colour = [np.full((HEIGHT // 2, WIDTH // 2), _PLAIN, np.uint8), red.astype(np.uint8)]
            planes = np.vstack([picture, *(plane.reshape(-1, WIDTH) for plane in colour)])
            frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
            frame.pts = number
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    return path


def _lay(red: NDArray[np.float64], top: int, share: float) -> None:
    places = np.arange(WIDTH // 2)
    middle = _MARGIN + share * _WAY
    cover = np.clip(_MARK / 2 + 0.5 - np.abs(places - middle), 0, 1)
    red[top : top + _STRIP] += (_FULL - _PLAIN) * cover


def shown_seconds(path: Path, seconds: float) -> NDArray[np.float64]:
    """Return which second of the take each picture of a film shows, by its marks."""
    found = []
    with av.open(str(path)) as file:
        for frame in file.decode(video=0):
            planes = np.asarray(frame.to_ndarray(format="yuv420p"), dtype=np.uint8)
            height, width = frame.height, frame.width
            red = planes.reshape(-1)[height * width * 5 // 4 :].reshape(height // 2, width // 2)
            scale = (height // 2) / (HEIGHT // 2)
            lap = _middle(red, scale, HEIGHT // 2 - _STRIP)
            whole = _middle(red, scale, HEIGHT // 2 - 2 * _STRIP)
            rough = whole * seconds
            fine = (round(rough / LAP_SECONDS - lap) + lap) * LAP_SECONDS
            # Of two pictures on both sides of a new lap the mixture tells nothing in its own strip.
            found.append(fine if abs(fine - rough) < _DOUBT_SECONDS else rough)
    return np.array(found)


def _middle(red: NDArray[np.uint8], scale: float, top: int) -> float:
    """Return how far the mark of the strip that begins at row `top` has come, 0 to 1."""
    first, past = round((top + 2) * scale), round((top + _STRIP - 2) * scale)
    row = red[first:past].astype(np.float64).mean(axis=0) - _PLAIN
    weight = np.clip(row - 0.15 * row.max(), 0, None)
    places = (np.arange(len(row)) + 0.5) / scale - 0.5
    return float(((weight @ places) / weight.sum() - _MARGIN) / _WAY)
