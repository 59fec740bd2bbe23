"""What the teacher insists on: which passages satisfy it, and when it must start."""

from __future__ import annotations

import math
from fractions import Fraction

from rondel.model.brief import Keep
from rondel.model.track import Laid
from rondel.planner.frame import Frame
from rondel.rules.keep import TOLERANCE_BARS

#: A time is written to the thousandth of a second: what is read again may be so little off, and the
#: checker lets twice as much pass. Without this, what stands a bar off would not be found allowed.
_ROUNDING_SECONDS = Fraction(1, 200)


def start_window(keep: Keep, frame: Frame) -> tuple[int, int] | None:
    """Return the first and the last bar at which the kept passage may start; None: anywhere."""
    if keep.at_seconds is None:
        return None
    if frame.laid is not None:
        return _nearest_bars(frame.laid, float(keep.at_seconds))
    at, allowed = keep.at_seconds, TOLERANCE_BARS * frame.bar_seconds + _ROUNDING_SECONDS
    first = math.ceil((at - allowed) / frame.bar_seconds)
    return max(0, first), math.floor((at + allowed) / frame.bar_seconds)


def bars_window(keep: Keep, frame: Frame) -> tuple[int, int] | None:
    """Return the fewest and the most bars of the kept passage; None: as usual."""
    if keep.minutes is None:
        return None
    seconds = keep.minutes * 60
    allowed = TOLERANCE_BARS * frame.bar_seconds + _ROUNDING_SECONDS
    return frame.at_least(seconds - allowed), max(1, frame.at_most(seconds + allowed))


def _nearest_bars(laid: Laid, at_seconds: float) -> tuple[int, int]:
    """Return the first and last bar that begin within a bar (of mean length) of `at_seconds`."""
    allowed = TOLERANCE_BARS * laid.total_seconds / laid.bars + float(_ROUNDING_SECONDS)
    apart = [abs(second - at_seconds) for second in laid.bar_starts[:-1]]
    near = [bar for bar, off in enumerate(apart) if off <= allowed]
    nearest = apart.index(min(apart))
    return (near[0], near[-1]) if near else (nearest, nearest)
