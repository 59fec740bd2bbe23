"""Reading the pictures of a take, in a process of its own: a damaged file can harm nothing else.

Everything here runs in children of `take_files`. What they give back is small: no picture leaves
them.
"""

from __future__ import annotations

import os
import resource
import sys
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import av
import av.error
import cv2
import numpy as np
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.stream import VideoStream
from numpy.typing import NDArray

from rondel.adapters.motion_flow import FlowStream, Grey, evened, outlines
from rondel.adapters.quiet_children import goes_quietly
from rondel.adapters.take_opening import TakeFilm, film_of, opened
from rondel.watching.moving import EVERY, LAGS

#: Pictures nearer to each other than this are passed over: 25 to 40 a second tell all.
LEAST_STEP_SECONDS = 0.024
#: Read before a part begins, so that the longest lag has its pictures.
WARM_SECONDS = (max(LAGS) + 2) / 24
#: Two pictures less alike than this are of two cameras (correlation of thumbnails).
_CUT_BELOW = 0.55
_SMALL, _THUMB = (80, 45), (32, 18)
#: Standard deviation of a thumbnail, in levels of 255 as filmed, at which a picture is plain, and
#: up to which it stays so: nothing is in it to be alike. The grain of pictures without anything,
#: drawn 640 wide with up to 16 levels of noise and encoded, leaves .85 at most.
_PLAIN, _STAYS_PLAIN = 1.0, 2.0
_MEMORY = 4 * 2**30  # bytes that a child may take
_GLARE = 250
_LEAST_SIDE = 16  # pixels of an evened picture: in less no flow can be worked out

NOT_FILM = (
    "this cannot be understood as film; it may be cut off: copy it again, or export it again, as "
    "MP4 or MOV"
)
A_STRIP = (
    "its picture is a strip, too narrow to see hands in; export the film again in its own shape"
)
A_PICTURE = "this is a picture, not a film"
NO_PICTURES = "there are no moving pictures in this file"

Rows = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """What a file says of itself. `seconds` None: it does not tell; `is_films`: they are those of
    its film, and not of all that is in it. `fault`: why it is no take."""

    seconds: float | None = None
    is_films: bool = True
    fps: float = 0.0
    width: int = 0
    height: int = 0
    fault: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What was seen from one second to another: times, and by lag how cells moved.

    `looks` (pictures, 3): brightness 0 to 255, share of it that glares, sharpness. `outlines_at`,
    `outlines`: as `rondel.watching.moving.Outlines` has them.
    """

    times: NDArray[np.float64]
    at: tuple[NDArray[np.float64], ...]
    cells: tuple[Rows, ...]
    camera: tuple[Rows, ...]
    looks: Rows
    outlines_at: NDArray[np.float64]
    outlines: Rows
    cuts: tuple[float, ...]
    fault: str = ""


def limit_child() -> None:
    """Bound what a child may take, and leave the cores to its brothers."""
    goes_quietly()
    cv2.setNumThreads(1)
    if sys.platform.startswith("linux"):
        resource.setrlimit(resource.RLIMIT_AS, (_MEMORY, _MEMORY))
        os.nice(1)


def probe(path: Path) -> Probe:
    """Return what the file says of itself; its first picture is decoded to be sure."""
    try:
        with opened(path) as container:
            stream = film_of(container)
            if stream is None:
                return Probe(fault=NO_PICTURES)
            if is_picture(container.format.name):
                return Probe(fault=A_PICTURE)
            told, is_films = _seconds_told(container, stream)
            frame = next(container.decode(stream), None)
            if frame is None:
                return Probe(fault=NO_PICTURES)
            picture = _upright(_grey(frame), frame)
            if min(evened(picture).shape) < _LEAST_SIDE:
                return Probe(fault=A_STRIP)
            height, width = picture.shape
            rate = float(stream.average_rate or stream.guessed_rate or 0)
            return Probe(seconds=told, is_films=is_films, fps=rate, width=width, height=height)
    except (av.error.FFmpegError, ValueError, MemoryError):
        return Probe(fault=NOT_FILM)


def is_picture(form: str) -> bool:
    """True where libav reads a file of this form as a single picture, whatever it is called."""
    return form.endswith("_pipe") or form == "image2"


def _seconds_told(container: InputContainer, stream: VideoStream) -> tuple[float | None, bool]:
    """Return how long the film is told to last, and True; or all of the file, and False."""
    if stream.duration and stream.time_base:
        # Files of WMV tell of each stream how long the whole file is.
        return float(stream.duration * stream.time_base), container.format.name != "asf"
    return (container.duration / av.time_base if container.duration else None), False


def read_part(path: Path, start: float, end: float | None) -> Part:
    """Return what moves from `start` to `end` seconds after the first picture."""
    try:
        with closing(TakeFilm(path)) as film:
            if film.stream is None:
                return _empty(NO_PICTURES)
            return _Reader(start, end).read(_pictures(film, start))
    except (av.error.FFmpegError, ValueError, MemoryError) as error:
        return _empty(str(error) or NOT_FILM)


def _pictures(film: TakeFilm, start: float) -> Iterator[tuple[float, Grey]]:
    """Yield (second, grey picture) from a little before `start`."""
    last = -1.0
    for frame in film.frames_from(start - WARM_SECONDS):
        second = film.second_of(frame)
        if second is None:
            continue
        if second < start - WARM_SECONDS or second - last < LEAST_STEP_SECONDS:
            continue
        last = second
        yield second, _upright(_grey(frame), frame)


def _grey(frame: VideoFrame) -> Grey:
    picture: Grey = np.asarray(frame.to_ndarray(format="gray"), dtype=np.uint8)
    if frame.interlaced_frame:
        # Only one of two fields is looked at, each line of it twice: the other is of another
        # moment.
        picture = np.repeat(picture[::2], 2, axis=0)[: len(picture)]
    return np.ascontiguousarray(picture)


def _upright(picture: Grey, frame: VideoFrame) -> Grey:
    """Turn a picture as its file says that it is to be shown."""
    return np.ascontiguousarray(np.rot90(picture, (frame.rotation // 90) % 4))


class _Reader:
    """Puts together what is seen of one part."""

    def __init__(self, start: float, end: float | None) -> None:
        self._start, self._end = start, end
        self._flow = FlowStream()
        self._past: list[float] = []
        self._thumb: Rows | None = None
        self._is_plain = False
        self._times: list[float] = []
        self._looks: list[tuple[float, float, float]] = []
        self._outlines: list[tuple[float, Rows]] = []
        self._cuts: list[float] = []
        self._steps: tuple[list[tuple[float, Rows, Rows]], ...] = tuple([] for _ in LAGS)

    def read(self, pictures: Iterator[tuple[float, Grey]]) -> Part:
        for second, picture in pictures:
            if self._end is not None and second >= self._end:
                break
            self._feed(second, picture)
        return Part(
            times=np.array(self._times),
            at=tuple(np.array([row[0] for row in rows]) for rows in self._steps),
            cells=tuple(_stacked([row[1] for row in rows]) for rows in self._steps),
            camera=tuple(_stacked([row[2] for row in rows]) for rows in self._steps),
            looks=np.array(self._looks, dtype=np.float32).reshape(-1, 3),
            outlines_at=np.array([row[0] for row in self._outlines]),
            outlines=_stacked([row[1] for row in self._outlines]),
            cuts=tuple(self._cuts),
        )

    def _feed(self, second: float, picture: Grey) -> None:
        seen = evened(picture)
        small = cv2.resize(picture, _SMALL, interpolation=cv2.INTER_AREA).astype(np.uint8)
        is_mine = second >= self._start
        is_cut = self._is_cut(small, seen)
        if is_cut or self._is_plain:  # in a plain picture nothing moves but its grain
            self._flow, self._past = FlowStream(), []
        if is_cut and is_mine:
            self._cuts.append(second)
        steps = self._flow.feed(seen)
        self._past.append(second)
        if not is_mine:
            return
        if len(self._times) % EVERY[-1] == 0:
            self._outlines.append((second, outlines(seen)))
        self._times.append(second)
        self._looks.append(_looks(small, seen))
        for lag, step, rows in zip(LAGS, steps, self._steps, strict=True):
            if step is not None:
                lasts = (self._past[-1] - self._past[-1 - lag]) / lag
                middle = (self._past[-1] + self._past[-1 - lag]) / 2
                camera = np.array(step.camera, dtype=np.float32)
                rows.append((middle, step.cells / np.float32(lasts), camera / np.float32(lasts)))

    def _is_cut(self, small: Grey, seen: Grey) -> bool:
        filmed = cv2.resize(small, _THUMB, interpolation=cv2.INTER_AREA)
        was_plain = self._is_plain
        self._is_plain = float(filmed.std()) < (_STAYS_PLAIN if was_plain else _PLAIN)
        thumb = cv2.resize(seen, _THUMB, interpolation=cv2.INTER_AREA).astype(np.float32)
        before, self._thumb = self._thumb, np.asarray(thumb, dtype=np.float32)
        if before is None:
            return False
        if self._is_plain or was_plain:  # black, as between two scenes: nothing to be alike in
            return self._is_plain != was_plain
        return float(np.corrcoef(before.ravel(), thumb.ravel())[0, 1]) < _CUT_BELOW


def _looks(small: Grey, seen: Grey) -> tuple[float, float, float]:
    sharp = float(cv2.Laplacian(seen, cv2.CV_32F).var())
    return float(small.mean()), float((small >= _GLARE).mean()), sharp


def _stacked(rows: list[Rows]) -> Rows:
    return np.array(rows, dtype=np.float32)


def _empty(fault: str) -> Part:
    none: Rows = np.zeros((0,), dtype=np.float32)
    times = np.zeros(0)
    return Part(
        times=times,
        at=tuple(times for _ in LAGS),
        cells=tuple(none for _ in LAGS),
        camera=tuple(none for _ in LAGS),
        looks=np.zeros((0, 3), dtype=np.float32),
        outlines_at=times,
        outlines=none,
        cuts=(),
        fault=fault,
    )


STILL_PIXELS = 240  # of the longer side


def read_stills(path: Path, seconds: tuple[float, ...]) -> list[tuple[float, bytes, int, int]]:
    """Return (second, JPEG, width, height) for each of `seconds` that the take has."""
    found: list[tuple[float, bytes, int, int]] = []
    try:
        with closing(TakeFilm(path)) as film:
            for second in seconds:
                frame = next(
                    (f for f in film.frames_from(second) if _is_from(film.second_of(f), second)),
                    None,
                )
                if frame is not None and film.stream is not None:
                    point = float(film.stream.sample_aspect_ratio or 1) or 1.0
                    found.append((second, *_still(frame, point)))
    except (av.error.FFmpegError, ValueError, MemoryError):
        pass  # a picture without its last stills is better than none
    return found


def _is_from(told: float | None, second: float) -> bool:
    return told is not None and told >= second


def _still(frame: VideoFrame, point: float) -> tuple[bytes, int, int]:
    """Return a picture as JPEG, upright; `point`: how much wider than high its points are."""
    turns = (frame.rotation // 90) % 4
    turned = np.rot90(frame.to_ndarray(format="bgr24"), turns)
    lying = (round(frame.width * point), frame.height)
    width, height = lying[::-1] if turns % 2 else lying
    scale = STILL_PIXELS / max(height, width)
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    small = cv2.resize(np.ascontiguousarray(turned), size, interpolation=cv2.INTER_AREA)
    _, data = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 85])
    return data.tobytes(), size[0], size[1]
