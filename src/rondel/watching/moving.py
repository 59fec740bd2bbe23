"""What is kept of a take's pictures: how each cell moved, frame by frame."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Seconds = NDArray[np.float64]

#: Cells along the longer side of a picture, and along the shorter.
CELLS_LONG, CELLS_SHORT = 16, 9
#: Frames between the two pictures that are compared: few for quick hands; many for slow glides and
#: for pressing, whose movement from one frame to the next drowns in noise.
LAGS = (1, 4, 12)
LAG_RATE = 25  # frames a second that lags are counted in
#: Every how many frames each lag is looked at: slow movement needs no more.
EVERY = (1, 2, 4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moving:
    """How a take moved at one lag.

    `at` (pairs,): the middle of each pair of pictures, in seconds. `cells` (pairs, down, across,
    2): mean flow across and down, in pixels of a picture whose longer side is 320, a second; the
    camera's is taken off, and each counts by how well it can be told. `camera` (pairs, 4): its
    shift across and down, growth and turn a second.
    """

    lag: int
    at: Seconds
    cells: Floats
    camera: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlines:
    """How much is to be seen in each cell that is fine, as outlines of hands are.

    `at` (pictures,): seconds, of every `EVERY[-1]`th picture. `cells` (pictures, down, across): the
    mean strength of what is fine, in levels of an evened picture.
    """

    at: Seconds
    cells: Floats


def no_outlines() -> Outlines:
    """Return what is known where nobody looked for outlines."""
    return Outlines(at=np.zeros(0), cells=np.zeros((0, CELLS_SHORT, CELLS_LONG), dtype=np.float32))


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A whole take: `frames` are the seconds of its pictures, `lags` one `Moving` a lag."""

    frames: Seconds
    lags: tuple[Moving, ...]
    outlines: Outlines = field(default_factory=no_outlines)
