"""Pictures of a take as the planes of a frame: upright, in the colours of the video, to size.

A take may be of any size, shape and rate, turned by its file, in two fields, in full range, in the
colours of ordinary (ITU-R BT.601), high (BT.709) or high-dynamic-range film (BT.2100).
"""

from __future__ import annotations

from bisect import bisect_left
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import av
import av.error
import av.filter
import numpy as np
from av.video.frame import VideoFrame
from av.video.reformatter import ColorRange, Colorspace, Interpolation
from av.video.stream import VideoStream

from rondel.adapters.planes import Planes, lay, turned
from rondel.adapters.take_colour import Brightened, is_high_range
from rondel.adapters.take_opening import TakeFilm
from rondel.model.errors import OutsideFailure

#: Further ahead than this, a take is sought rather than read on.
_READ_ON_SECONDS = 4.0
#: Film of fewer lines that does not name its colours is ordinary film (common practice).
_HIGH_LINES = 720
#: Matrix coefficients of ISO/IEC 23091-2 as libav's scaler knows them. Film that names BT.2020 and
#: no high range is of a phone that records ordinary film with wide colours.
_SPACES = {
    1: Colorspace.ITU709,
    5: Colorspace.ITU601,
    6: Colorspace.ITU601,
    7: Colorspace.SMPTE240M,
    9: Colorspace.BT2020,
    10: Colorspace.BT2020,
}
_LATEST_FAULT = "the take could not be read again to its end; copy it again, and make it again"


@dataclass(frozen=True, slots=True)
class Fit:
    """How film stands in a frame: the frame, and the box of it that the whole picture fills.

    Where film fills the frame, the box is larger than it. All numbers are even.
    """

    frame: tuple[int, int]
    box: tuple[int, int, int, int]  # left, top, width, height


def fitted(picture: tuple[int, int], frame: tuple[int, int], *, fills: bool) -> Fit:
    """Return how a picture of (width, height) stands in a frame: all of it, or all of the frame."""
    across, down = frame[0] / picture[0], frame[1] / picture[1]
    scale = max(across, down) if fills else min(across, down)
    width, height = _even(picture[0] * scale), _even(picture[1] * scale)
    if not fills:
        width, height = min(width, frame[0]), min(height, frame[1])
    return Fit(
        frame, (_even((frame[0] - width) / 2), _even((frame[1] - height) / 2), width, height)
    )


class TakePictures:
    """Pictures of one take, asked for in any order, quickest in the order in which they came.

    `near` gives the seconds of the pictures on both sides of a second, `planes` one of these two as
    planes of shape (height x 3/2, width) of the frame.
    """

    def __init__(self, path: Path, frame: tuple[int, int], *, fills: bool, paper: Planes) -> None:
        self._path, self._frame, self._fills = path, frame, fills
        self._paper = paper
        self._film: TakeFilm | None = None
        self._coming: Iterator[tuple[float, VideoFrame]] = iter(())
        self._held: deque[tuple[float, VideoFrame]] = deque(maxlen=2)
        self._made: dict[float, Planes] = {}
        self._bright = Brightened()
        self._point = 1.0  # how much wider than high each point of the pictures is

    def near(self, second: float) -> tuple[float, float]:
        """Return the seconds of the pictures at or before `second`, and after it.

        Both are the same before the first picture and after the last one.
        """
        if not self.is_ahead(second):
            self._seek(second)
        while not self._held or self._held[-1][0] <= second:
            following = next(self._coming, None)
            if following is None:
                break
            self._held.append(following)
        if not self._held:
            raise OutsideFailure(_LATEST_FAULT, at=str(self._path))
        times = [time for time, _ in self._held]
        at = max(0, bisect_left(times, second + 1e-9) - 1)
        return times[at], times[min(at + 1, len(times) - 1)]

    def planes(self, second: float) -> Planes:
        """Return the picture of `second`, one of the two that `near` named last."""
        if second not in self._made:
            wanted = {time for time, _ in self._held}
            self._made = {t: made for t, made in self._made.items() if t in wanted}
            frame = next(frame for time, frame in self._held if time == second)
            self._made[second] = self._set(frame)
        return self._made[second]

    def close(self) -> None:
        if self._film is not None:
            self._film.close()
            self._film = None

    def is_ahead(self, second: float) -> bool:
        """True where `second` is reached by reading on a little."""
        if self._film is None or not self._held:
            return False
        return self._held[0][0] <= second + 1e-9 <= self._held[-1][0] + _READ_ON_SECONDS

    def _seek(self, second: float) -> None:
        try:
            if self._film is None:
                self._film = TakeFilm(self._path)
            if self._film.stream is None:
                raise OutsideFailure(_LATEST_FAULT, at=str(self._path))
            self._held.clear()
            # A little before: the picture at or before `second` is wanted, too.
            self._coming = self._read(self._film, max(0.0, second - 0.2))
        except (av.error.FFmpegError, ValueError) as error:
            raise OutsideFailure(_LATEST_FAULT, at=str(self._path)) from error

    def _read(self, film: TakeFilm, wanted: float) -> Iterator[tuple[float, VideoFrame]]:
        last = -np.inf
        try:
            coming = film.frames_from(wanted)
            stream = film.stream
            if stream is None:
                return
            self._point = float(stream.sample_aspect_ratio or 1) or 1.0
            woven = _Unwoven(stream)
            for decoded in coming:
                for frame in woven.whole(decoded):
                    second = film.second_of(frame)
                    if second is not None and second > last:
                        last = second
                        yield second, frame
        except av.error.FFmpegError:
            return  # what was there before stands in for the rest

    def _set(self, frame: VideoFrame) -> Planes:
        """Return a picture of the take set into a frame."""
        turns = (frame.rotation // 90) % 4
        lying = (round(frame.width * self._point), frame.height)
        fit = fitted(lying[::-1] if turns % 2 else lying, self._frame, fills=self._fills)
        left, top, width, height = fit.box
        size = (height, width) if turns % 2 else (width, height)
        planes = self._scaled(frame, size)
        if turns:
            planes = turned(planes, size, turns)
        if fit.box == (0, 0, *fit.frame):
            return planes
        canvas = self._paper.copy()
        lay(planes, (width, height), canvas, fit.frame, (left, top))
        return canvas

    def _scaled(self, frame: VideoFrame, size: tuple[int, int]) -> Planes:
        """Return `frame` in `size` as planes of BT.709 in limited range."""
        if is_high_range(frame):
            return self._bright.planes(frame, size)
        is_high = frame.height >= _HIGH_LINES
        assumed = Colorspace.ITU709 if is_high else Colorspace.ITU601
        space = _SPACES.get(int(frame.colorspace), assumed)
        is_full = int(frame.color_range) == 2 or frame.format.name.startswith("yuvj")
        is_ready = frame.format.name == "yuv420p" and space is Colorspace.ITU709 and not is_full
        if not is_ready or (frame.width, frame.height) != size:
            is_smaller = size[0] < frame.width
            frame = frame.reformat(
                width=size[0],
                height=size[1],
                format="yuv420p",
                src_colorspace=space,
                dst_colorspace=Colorspace.ITU709,
                src_color_range=ColorRange.JPEG if is_full else ColorRange.MPEG,
                dst_color_range=ColorRange.MPEG,
                interpolation=Interpolation.AREA if is_smaller else Interpolation.BICUBIC,
            )
        return np.asarray(frame.to_ndarray(), dtype=np.uint8)


class _Unwoven:
    """Pictures in two fields made whole; others as they are."""

    def __init__(self, stream: VideoStream) -> None:
        self._stream = stream
        self._graph: av.filter.Graph | None = None

    def whole(self, frame: VideoFrame) -> Iterator[VideoFrame]:
        if not frame.interlaced_frame:
            yield frame
            return
        if self._graph is None:
            self._graph = av.filter.Graph()
            self._graph.link_nodes(
                self._graph.add_buffer(template=self._stream),
                self._graph.add("bwdif", "mode=send_frame"),
                self._graph.add("buffersink"),
            ).configure()
        self._graph.push(frame)
        while True:
            try:
                made = self._graph.pull()
            except (av.error.BlockingIOError, av.error.EOFError):
                return
            assert isinstance(made, VideoFrame)
            yield made


def _even(size: float) -> int:
    return 2 * round(size / 2)
