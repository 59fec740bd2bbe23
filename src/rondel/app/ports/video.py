"""What the app asks of a maker of video files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from rondel.app.ports.raster import Rasteriser
from rondel.drawing.frames.reel import Reel
from rondel.model.words import Language


class Timed(Protocol):
    """Words from one second to another: a caption, or the title of a chapter."""

    @property
    def start_seconds(self) -> float: ...
    @property
    def end_seconds(self) -> float: ...
    @property
    def text(self) -> str: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedText:
    """The plainest `Timed`."""

    start_seconds: float
    end_seconds: float
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EncodedChunk:
    """One chunk on disk, and the seconds that painting and encoding took."""

    frames: int
    painting_seconds: float
    encoding_seconds: float


class VideoMaker(Protocol):
    """Makes chunks of video, each playable by itself, and joins them without encoding again.

    It is sent to other processes, so it must be picklable.
    """

    def encode(
        self, reel: Reel, rasteriser: Rasteriser, out: Path, *, scale: float = 1.0
    ) -> EncodedChunk:
        """Paint and encode the frames of `reel` into `out`, whole or not at all.

        A `scale` below 1 makes smaller pictures of the same frames, for a quick look.
        """
        ...

    def join(
        self,
        chunks: Sequence[Path],
        sound: Path | None,
        captions: Sequence[Timed],
        chapters: Sequence[Timed],
        out: Path,
        *,
        title: str,
        language: Language = Language.ENGLISH,
    ) -> None:
        """Write `out`: pictures of the chunks in order, the sound as it is, captions in their
        `language`, chapters, and the title that players show.

        Written whole or not at all. Raises OutsideFailure where the disk or the codec fails.
        """
        ...
