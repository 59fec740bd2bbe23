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

from rondel.drawing.frames.shapes import Shape

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


class Shown(NamedTuple):
    """What one frame shows of the takes: `second` of `take`, which is played at `speed` there.

    While one shot dissolves into the next, `other_second` of `other` shows through by `mix`.
    """

    take: int
    second: float
    speed: float
    other: int = 0
    other_second: float = 0.0
    other_speed: float = 1.0
    mix: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmedTake:
    """A take that frames are shown of. `cuts`: seconds at which its camera was switched, where no
    picture between two may be made up. `is_mirrored`: shown as in a mirror."""

    path: str
    digest: str
    cuts: tuple[float, ...] = ()
    is_mirrored: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Footage:
    """Film under the pieces of a reel: `shown` is as long as the reel.

    `fills`: film is cut to fill the frame; else all of it is shown, on paper.
    """

    takes: tuple[FilmedTake, ...]
    shown: tuple[Shown, ...] = field(repr=False)
    fills: bool = False

    def told(self) -> tuple[object, ...]:
        """Return all that decides what is seen; where a file lies does not."""
        takes = [(take.digest, take.cuts, take.is_mirrored) for take in self.takes]
        return (takes, [tuple(round(v, 4) for v in shown) for shown in self.shown], self.fills)


@dataclass(frozen=True, kw_only=True)
class Reel:
    """Consecutive frames from `first_frame` on. Stills and pieces are named by their index.

    With `footage`, film stands in the place of the stills. `is_of_film`: some of the video that
    this is a part of is film, and all of it is encoded so. `shape`: a drawn reel is laid out wide
    and set anew for other shapes when it is painted; `width` and `height` are those of the layout.
    """

    first_frame: int
    width: int
    height: int
    frames_per_second: int
    stills: tuple[Still, ...]
    pieces: tuple[Piece, ...]
    moments: tuple[Moment, ...] = field(repr=False)
    footage: Footage | None = None
    is_of_film: bool = False
    shape: Shape = Shape.WIDE

    @property
    def frames(self) -> int:
        return len(self.moments)

    def digest(self) -> str:
        """Return a SHA-256 of all that is shown; where in the video it is shown does not count."""
        sha = hashlib.sha256()
        head = (PAINTING, self.width, self.height, self.frames_per_second, self.frames)
        sha.update(repr((head, self.stills, self.pieces)).encode("utf-8"))
        sha.update(self.table().tobytes())
        if self.is_of_film or self.shape is not Shape.WIDE:
            film = self.footage.told() if self.footage else ()
            sha.update(repr((self.is_of_film, str(self.shape), film)).encode("utf-8"))
        return sha.hexdigest()

    def table(self) -> NDArray[np.float64]:
        """Return every number of every moment in one row each: frame, kind, then the numbers."""
        rows: list[tuple[float, ...]] = []
        for n, moment in enumerate(self.moments):
            rows.append((n, -1, moment.still, moment.fading_in, moment.mix, 0, 0, 0))
            rows.extend((n, *placed) for placed in moment.placed)
        return np.array(rows, dtype=np.float64).round(4) + 0.0
