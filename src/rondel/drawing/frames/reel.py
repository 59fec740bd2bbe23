"""A reel: a stretch of frames written down completely, so that it can be drawn by itself.

A reel needs no routine, no repertoire and no clock: whoever has it can paint its frames, and two
reels with the same digest show the same frames.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

#: Raised by hand whenever painting or encoding itself changes, so that old chunks are not taken
#: for new ones.
PAINTING = 3


Box = tuple[int, int, int, int]  # left, top, width, height, in pixels of the frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Inlay:
    """An SVG drawn into a box of the frame."""

    svg: str
    box: Box


@dataclass(frozen=True, slots=True, kw_only=True)
class Still:
    """What does not move: boxes of plain colour (#rrggbb), and drawings laid over them, in order.

    The first box of colour covers the whole frame.
    """

    grounds: tuple[tuple[Box, str], ...]
    laid_over: tuple[Inlay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """Something small that moves or comes and goes: an SVG of `width` × `height` frame pixels.

    Its viewBox has the same shape as its size. It is placed by its centre.
    """

    svg: str
    width: int
    height: int


class Placed(NamedTuple):
    """One piece in one frame: its centre in pixels, turned by degrees clockwise, then scaled.

    A negative `scale_x` mirrors. `opacity` is 0 to 1.
    """

    piece: int
    x: float
    y: float
    degrees: float = 0.0
    scale_x: float = 1.0
    scale_y: float = 1.0
    opacity: float = 1.0


class Moment(NamedTuple):
    """One frame: a still, perhaps another fading in over it, and the pieces, lowest first."""

    still: int
    fading_in: int
    mix: float
    placed: tuple[Placed, ...]


@dataclass(frozen=True, kw_only=True)
class Reel:
    """Consecutive frames from `first_frame` on. Stills and pieces are named by their index."""

    first_frame: int
    width: int
    height: int
    frames_per_second: int
    stills: tuple[Still, ...]
    pieces: tuple[Piece, ...]
    moments: tuple[Moment, ...] = field(repr=False)

    @property
    def frames(self) -> int:
        return len(self.moments)

    def digest(self) -> str:
        """Return a SHA-256 of all that is shown; where in the video it is shown does not count."""
        sha = hashlib.sha256()
        head = (PAINTING, self.width, self.height, self.frames_per_second, self.frames)
        sha.update(repr((head, self.stills, self.pieces)).encode("utf-8"))
        sha.update(self.table().tobytes())
        return sha.hexdigest()

    def table(self) -> NDArray[np.float64]:
        """Return every number of every moment in one row each: frame, kind, then the numbers."""
        rows: list[tuple[float, ...]] = []
        for n, moment in enumerate(self.moments):
            rows.append((n, -1, moment.still, moment.fading_in, moment.mix, 0, 0, 0))
            rows.extend((n, *placed) for placed in moment.placed)
        return np.array(rows, dtype=np.float64).round(4) + 0.0
