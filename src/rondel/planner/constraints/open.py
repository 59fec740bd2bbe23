"""How the minutes left free are cut into open passages."""

from __future__ import annotations

from fractions import Fraction

from rondel.planner.frame import Frame
from rondel.rules.open import MIN_SECONDS


def total_bars(frame: Frame) -> int:
    """Return the bars nearest to the minutes left free: within half a bar of them."""
    return int(frame.brief.open_minutes * 60 / frame.bar_seconds + Fraction(1, 2))


def least_bars(frame: Frame) -> int:
    """Return the fewest bars of one open passage."""
    return frame.at_least(MIN_SECONDS * frame.scale)


def chunks(frame: Frame, pieces: int) -> tuple[int, ...]:
    """Return the lengths of `pieces` open passages, as even as phrases allow; () if too short."""
    total, step = total_bars(frame), frame.step
    if not total:
        return ()
    base = total // pieces // step * step
    if pieces > 1 and base < least_bars(frame):
        return ()
    if pieces == 1:
        return (total,) if total >= least_bars(frame) else ()
    return (*((base,) * (pieces - 1)), total - base * (pieces - 1))
