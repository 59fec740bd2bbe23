"""What the app asks of whatever reads the tracks that a teacher brings."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from rondel.app.ports.sound import Block


class Tracks(Protocol):
    """Reads sound of any common kind, from mono to many channels, in memory that stays small.

    Every method raises BadInput, in a sentence, where the file is missing, is damaged or cut off,
    or holds no sound, and OutsideFailure where the disk cannot be read.
    """

    def seconds_told(self, path: Path) -> float:
        """Return how long the file says it lasts: exact, or a guess good enough for progress."""
        ...

    def blocks(self, path: Path, rates: tuple[int, ...]) -> Iterator[tuple[Block, ...]]:
        """Yield the whole track from its very start, folded to stereo, at each of `rates` (Hz).

        Every step gives one block (frames, 2) for each rate, in their order. The blocks of one
        rate follow each other without a gap, and those of different rates end at about the same
        second: within a twentieth of a second, and exactly alike at the end.
        """
        ...

    def digest(self, path: Path) -> str:
        """Return the SHA-256 of the file: another one is another track."""
        ...
