"""What the app asks of whatever writes, reads and measures sound."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from rondel.music.score import Score

Block = NDArray[np.float32]  # (frames, 2) at 48 kHz, in -1..1


@dataclass(frozen=True, slots=True, kw_only=True)
class Loudness:
    """What a meter after EBU R 128 says: LUFS, LU and dBTP. Silence reads -inf or the floor."""

    integrated: float
    range_lu: float
    true_peak_db: float
    most_momentary: float
    most_short_term: float


class LoudnessMeter(Protocol):
    """Measures stereo sound at 48 kHz that comes in blocks of any length."""

    def add(self, block: Block) -> None:
        """Hear `block`."""

    def result(self) -> Loudness:
        """Return what all blocks so far come to."""
        ...


class SoundSink(Protocol):
    """A file that takes sound."""

    def write(self, block: Block) -> None:
        """Append `block`."""


class SoundWorks(Protocol):
    """Files of sound and of notes, whole or not at all, and a meter."""

    def open_sink(self, path: Path) -> AbstractContextManager[SoundSink]:
        """Open a file for writing; its suffix says what it is: .flac or .m4a.

        Raises OutsideFailure where the disk or the codec fails.
        """
        ...

    def blocks_of(self, path: Path) -> Iterator[Block]:
        """Return the sound of a file as a player gives it, from its very beginning."""
        ...

    def write_score(self, score: Score, path: Path) -> None:
        """Write a Standard MIDI File."""

    def meter(self) -> LoudnessMeter:
        """Return a fresh meter."""
        ...
