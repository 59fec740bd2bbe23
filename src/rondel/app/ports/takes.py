"""What the app asks of whatever reads the takes that a teacher brings."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from rondel.app.progress import Progress
from rondel.model.take import Seen
from rondel.model.take_corrections import TakeCorrections
from rondel.watching.moving import Moved


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """A take read once through. `looks` (pictures, 3): brightness 0 to 255, share that glares,
    sharpness; `cuts`: where the camera was switched."""

    moved: Moved
    looks: NDArray[np.float32]
    cuts: tuple[float, ...]
    fps: float
    width: int
    height: int


class Takes(Protocol):
    """Reads film of any common kind in memory that stays small.

    Raises BadInput, in a sentence, where the file is missing, damaged or cut off, or no film.
    """

    def watched(self, path: Path, progress: Progress) -> Watched:
        """Return what moves in the pictures of a take."""
        ...

    def digest(self, path: Path) -> str:
        """Return the SHA-256 of the file: another one is another take."""
        ...


class BesideTake(Protocol):
    """The small files that lie beside a take: what was seen in it, and what was put right."""

    def kept(self, take: Path, made_from: str) -> Seen | None:
        """Return what was first seen in `take`, if that was made from just this."""
        ...

    def keep(self, take: Path, first: Seen, seen: Seen, made_from: str) -> None:
        """Keep what was first seen, and what is with all corrections."""
        ...

    def corrections(self, take: Path) -> TakeCorrections:
        """Return what was put right; BadInput where that cannot be understood."""
        ...

    def correct(self, take: Path, corrections: TakeCorrections) -> None:
        """Keep what was put right; take the file away where that is nothing."""
        ...
