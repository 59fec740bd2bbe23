"""When the next return may start, and by when it must."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.planner.frame import Frame
from rondel.rules.refrain_spacing import MAX_GAP_SHARE, MIN_GAP_SECONDS, MIN_GAP_SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Spacing:
    """Gaps in whole bars for `returns` returns of `length` bars in a routine of `bars`.

    `least_tail` is the fewest bars that must follow the last return.
    """

    bars: int
    returns: int
    length: int
    least_gap: int
    most_gap: int
    least_tail: int

    def latest_start(self, done: int, home_end: int) -> int:
        """Return the last bar at which return number `done` (from 0) may start."""
        left = self.returns - done
        room = self.bars - self.least_tail - left * self.length - (left - 1) * self.least_gap
        return min(home_end + self.most_gap, room)

    def may_start(self, bar: int, done: int, home_end: int) -> bool:
        """True where a return may start at `bar` and the others still find their places."""
        if done >= self.returns or (done and bar < home_end + self.least_gap):
            return False
        if bar > self.latest_start(done, home_end):
            return False
        later = self.returns - done - 1
        furthest = bar + self.length + later * (self.most_gap + self.length) + self.most_gap
        return furthest >= self.bars


def gaps(frame: Frame) -> tuple[int, int]:
    """Return the least and the most bars between returns; strict, so rounded inwards."""
    g = frame.brief.minutes * 60 / (frame.refrains + 1)
    share = g / 3 if abs(MIN_GAP_SHARE * 3 - 1) < 1e-9 else g * round(MIN_GAP_SHARE * 1000) / 1000
    least = min(MIN_GAP_SECONDS * frame.scale, share)
    most = frame.at_most(g * round(MAX_GAP_SHARE * 10) / 10)
    return frame.at_least(least), most


def spacing(frame: Frame, *, length: int, least_tail: int) -> Spacing:
    """Return the spacing for a refrain of `length` bars."""
    least, most = gaps(frame)
    return Spacing(
        bars=frame.bars,
        returns=frame.refrains,
        length=length,
        least_gap=least,
        most_gap=most,
        least_tail=least_tail,
    )
