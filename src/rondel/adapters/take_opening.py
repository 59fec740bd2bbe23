"""A take opened as film: which of its streams is the film, and its pictures from any second on.

Not every container can be sought in to the picture: those of camcorders and discs (MPEG streams)
and broken indexes lead to a place somewhat later, or to none. So what comes is looked at, and
where it begins too late, the film is taken up further back, at last from its very beginning.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import av
import av.error
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

#: Only files: a playlist must not lead to the network.
_OPTIONS = {"protocol_whitelist": "file"}
#: How far before the second that is wanted film is taken up, try by try.
_BACK_SECONDS = (0.0, 2.0, 8.0, 32.0)
_ROUNDING = 0.001


def opened(path: Path) -> InputContainer:
    """Open a file of film, whatever its name is: "rope: hands.mp4" is no address, and the words
    that a camera or a program left in it may be of any alphabet."""
    return av.open(f"file:{path.absolute()}", options=_OPTIONS, metadata_errors="ignore")


def film_of(container: InputContainer) -> VideoStream | None:
    """Return the stream of moving pictures; a cover is none. Of several the one that its file
    names as usual, then the largest."""
    kinds = av.stream.Disposition
    films = [s for s in container.streams.video if not s.disposition & kinds.attached_pic]
    return max(
        films,
        key=lambda s: (bool(s.disposition & kinds.default), s.width * s.height),
        default=None,
    )


class TakeFilm:
    """An opened take with its film. `stream` is None where it has none.

    Raises what libav raises where the file cannot be opened.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._open()

    def _open(self) -> None:
        self.container = opened(self._path)
        self.stream = film_of(self.container)
        self._is_at_start = True
        if self.stream is not None:
            self.stream.thread_type = "SLICE"

    def close(self) -> None:
        self.container.close()

    def second_of(self, frame: VideoFrame) -> float | None:
        """Return how many seconds after the beginning of the film a picture is shown."""
        stream = self.stream
        if frame.pts is None or frame.time_base is None or stream is None:
            return None
        first = float((stream.start_time or 0) * stream.time_base) if stream.time_base else 0.0
        return float(frame.pts * frame.time_base) - first

    def frames_from(self, second: float) -> Iterator[VideoFrame]:
        """Return the pictures from `second` or somewhat before it; none where there are none."""
        for place in self._places(second):
            try:
                frames = self._from(place)
                head = next((f for f in frames if self.second_of(f) is not None), None)
            except av.error.FFmpegError:
                if place is None:
                    raise
                continue
            if head is None:
                continue
            if place is None or (self.second_of(head) or 0.0) <= second + _ROUNDING:
                return chain([head], frames)
        return iter(())

    def _places(self, second: float) -> Iterator[float | None]:
        """Yield seconds to take the film up at; None: its beginning."""
        if self.stream is not None and self.stream.time_base:
            yield from (second - back for back in _BACK_SECONDS if second > back)
        yield None

    def _from(self, place: float | None) -> Iterator[VideoFrame]:
        if place is None and not self._is_at_start:
            self.close()
            self._open()
        stream = self.stream
        if stream is None:
            return iter(())
        self._is_at_start = False
        if place is not None and stream.time_base:
            at = (stream.start_time or 0) + int(place / stream.time_base)
            self.container.seek(at, stream=stream)
        return self.container.decode(stream)


def furthest(path: Path) -> float:
    """Return the last second that anything in a file, also its sound, reaches; nothing is
    decoded."""
    last = 0.0
    with opened(path) as container:
        # How long Matroska lasts is told from nought, of others from where they begin.
        is_from_nought = "matroska" in container.format.name
        first = 0.0 if is_from_nought else (container.start_time or 0) / av.time_base
        try:
            for packet in container.demux():
                at = packet.dts if packet.pts is None else packet.pts
                if at is not None and packet.time_base is not None:
                    last = max(last, float((at + (packet.duration or 0)) * packet.time_base))
        except av.error.FFmpegError:
            pass  # it is broken off there
    return max(0.0, last - first)
