"""What the teacher insists on: which passages satisfy it, and when it must start."""

from __future__ import annotations

import math
from fractions import Fraction

from rondel.model.brief import Keep
from rondel.planner.frame import Frame
from rondel.rules.keep import TOLERANCE_BARS


def start_window(keep: Keep, frame: Frame) -> tuple[int, int] | None:
    """Return the first and the last bar at which the kept passage may start; None: anywhere."""
    if keep.at_seconds is None:
        return None
    at = keep.at_seconds / frame.bar_seconds
    return max(0, math.ceil(at - TOLERANCE_BARS)), math.floor(at + TOLERANCE_BARS)


def bars_window(keep: Keep, frame: Frame) -> tuple[int, int] | None:
    """Return the fewest and the most bars of the kept passage; None: as usual."""
    if keep.minutes is None:
        return None
    bars: Fraction = keep.minutes * 60 / frame.bar_seconds
    return max(1, math.ceil(bars - TOLERANCE_BARS)), max(1, math.floor(bars + TOLERANCE_BARS))
