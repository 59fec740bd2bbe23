"""Whether times insisted on, returns of the refrain and turnings over can share one line at all.

A relaxed routine: bars hold only what is insisted on at a time, the returns with their gaps, the
arrival, the close and turnings over; all else is thin air that fills any number of bars. Where
even this does not fit, no routine does. Where it fits, nothing is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from rondel.model.words import Position

_REMEMBERED = 4096  # lines with stops: briefs that differ a little ask for the same ones


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What the line must hold, in bars: `returns` of `home` bars (the shortest and the longest),
    `gap` bars between them (the fewest and the most, the most also before the first and after
    the last), and the fewest bars of arrival, close, turning over, open passage (0: none is
    asked for) and of any passage at all."""

    bars: int
    returns: int
    home: tuple[int, int]
    gap: tuple[int, int]
    arrival: int
    closing: int
    turning: int
    open: int
    passage: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Something that starts from bar `window[0]` to `window[1]` and takes `least` bars or more.

    `reached` are the numbers of the regions from which the hands may come straight.
    """

    window: tuple[int, int]
    least: int
    positions: frozenset[Position]
    region: int
    reached: frozenset[int]
    is_bridge: bool
    may_arrive: bool
    may_end: bool


#: Up to where a part of the line is laid: (its end, returns so far, position, region it ends on,
#: True where the hands may go anywhere). With it, the least and the most bar at which the last
#: return may have ended.
_Key = tuple[int, int, Position | None, int, bool]
_Ends = tuple[int, int]


@lru_cache(maxsize=_REMEMBERED)
def fits(stops: tuple[Stop, ...], line: Line) -> bool:
    """True unless `stops`, in this order, can be proven not to fit into the line."""
    laid: dict[_Key, _Ends] = {(0, 0, None, -1, True): (0, 0)}
    for stop in stops:
        following: dict[_Key, _Ends] = {}
        for key, ends in laid.items():
            _lay(stop, key, ends, line, following)
        laid = following
    may_end = bool(stops) and stops[-1].may_end
    return any(_may_close(key, ends, line, may_end) for key, ends in laid.items())


def _lay(stop: Stop, key: _Key, ends: _Ends, line: Line, following: dict[_Key, _Ends]) -> None:
    """Put `stop` after `key`, with every number of returns and every position between."""
    end, returns, position, region, is_free = key
    is_first = position is None
    for start in range(max(stop.window[0], 0), stop.window[1] + 1):
        for to in stop.positions:
            turns = not is_first and to is not position
            for more in range(line.returns - returns + 1):
                arrival = line.arrival if is_first and (more or not stop.may_arrive) else 0
                came = _homes(end + arrival, ends, more, returns, line)
                # After two returns, or an open passage, the turning may lie further back.
                latest = start - (line.turning if turns and more == 1 and not line.open else 0)
                if came is None or came[0] > latest:
                    continue
                low, high = came[0], min(came[1], latest)
                if not more:
                    if start < end + arrival:
                        continue
                    if turns and not (line.open and start - end >= line.open + line.turning):
                        continue
                    gap = start - end
                    must_touch = not is_first and gap < line.passage
                    if must_touch and not (is_free or stop.is_bridge or region in stop.reached):
                        continue
                # The refrain, or the end, must still be in time after it.
                low = max(low, start + stop.least - line.gap[1])
                if low > high:
                    continue
                new = (start + stop.least, returns + more, to, stop.region, stop.is_bridge)
                old = following.get(new)
                if old is not None:
                    low, high = min(low, old[0]), max(high, old[1])
                following[new] = (low, high)


def _homes(free: int, ends: _Ends, more: int, returns: int, line: Line) -> _Ends | None:
    """Return from when to when the last of `more` returns may end, the first not before `free`."""
    if not more:
        return ends
    least_gap, most_gap = line.gap
    first = max(free, ends[0] + (least_gap if returns else 0))
    last = ends[1] + most_gap
    if first > last:
        return None
    low = first + more * line.home[0] + (more - 1) * least_gap
    high = last + more * line.home[1] + (more - 1) * most_gap
    return low, high


def _may_close(key: _Key, ends: _Ends, line: Line, may_end: bool) -> bool:
    """True where the returns that are left and the close fit after `key`."""
    end, returns, _, _, _ = key
    more = line.returns - returns
    came = _homes(end + (line.arrival if key[2] is None else 0), ends, more, returns, line)
    if came is None:
        return False
    low, high = came
    if more:
        return low + line.closing <= line.bars and high + line.gap[1] >= line.bars
    closing = 0 if may_end else line.closing
    return end + closing <= line.bars and high + line.gap[1] >= line.bars
