"""Which strokes of which takes stand in a passage: the cheapest row of them that fits its beats.

A passage is a row of gaps, from one landing to the next. Each gap is filled with one whole stroke
of a take, played a little faster or slower. Strokes follow each other as they were filmed, or the
picture is cut, at a landing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

#: How far a stroke may be played off its own speed without being felt: the standard deviation of a
#: ratio's logarithm in what it costs (our study; `docs/decisions/0018`).
EASE = 0.18
#: What a change of speed from one stroke to the next costs, beside being off at all.
_CHANGE_COSTS = 0.25
#: A cut costs as much as two strokes that are played a half faster than they were filmed; less to
#: another angle, for that is what angles are for; more away from a bar line.
CUT_COSTS, ANGLE_COSTS, OFF_BAR_COSTS = 12.0, 6.0, 8.0
#: A cut back into what was just shown is a loop: seen at once.
LOOP_COSTS = 40.0
#: Where there are several angles, one that stands longer than this grows dear by the second.
LONG_SHOT_SECONDS, LONG_SHOT_COSTS = 20.0, 0.6
#: What a stroke with a slip in it costs where slips may be shown.
SLIP_COSTS = 4.0
SLOWEST, FASTEST = 0.6, 1.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A whole stroke of a take, from landing to landing, in seconds of the take.

    `take` numbers parts of takes; `angle` is from where it was filmed. `has_slip`: the hand slips
    in it.
    """

    take: int
    start: float
    end: float
    angle: str = ""
    has_slip: bool = False

    @property
    def seconds(self) -> float:
        return self.end - self.start


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a teacher may set: how slow and fast film may be played; the shortest shot, in seconds.

    `mirrors`: takes of one side stand for the other too, as in a mirror. `shows_slips`: slips may
    be seen, to show that they are nothing.
    """

    slowest: float = SLOWEST
    fastest: float = FASTEST
    shortest_shot: float = 4.0
    mirrors: bool = False
    shows_slips: bool = False


def choose(
    landings: Sequence[float],
    strokes: Sequence[Stroke],
    limits: Limits | None = None,
    *,
    on_bar: Sequence[bool] | None = None,
) -> tuple[int, ...] | None:
    """Return for each gap of `landings` (session seconds) which of `strokes` fills it.

    `strokes` are in order, take by take; two follow each other where one ends as the next begins.
    `on_bar` says of each landing whether it is on a bar line, where cuts are better. None where no
    row of strokes keeps within `limits`.
    """
    limits = limits or Limits()
    gaps = np.diff(np.asarray(landings, dtype=np.float64))
    if not len(gaps) or not strokes:
        return None
    logs = np.log(np.array([s.seconds for s in strokes])[None, :] / gaps[:, None])
    own = (logs / EASE) ** 2
    own[(logs < np.log(limits.slowest)) | (logs > np.log(limits.fastest))] = np.inf
    own += SLIP_COSTS * np.array([s.has_slip for s in strokes])
    off_bar = [not on for on in on_bar] if on_bar is not None else [False] * (len(gaps) + 1)
    several = len({s.angle for s in strokes}) > 1
    row = _Row(
        gaps=gaps,
        own=own,
        logs=logs,
        before=_following(strokes),
        jumps=_jumps(strokes),
        extra=OFF_BAR_COSTS * np.array(off_bar, dtype=np.float64),
        shortest=limits.shortest_shot,
        longest=max(LONG_SHOT_SECONDS, limits.shortest_shot) if several else np.inf,
    )
    return row.cheapest()


def _following(strokes: Sequence[Stroke]) -> NDArray[np.int64]:
    """Return which stroke was filmed right before each, or -1."""
    before = [-1] * len(strokes)
    for n, (one, two) in enumerate(pairwise(strokes)):
        if one.take == two.take and abs(one.end - two.start) < 1e-6:
            before[n + 1] = n
    return np.array(before, dtype=np.int64)


def _jumps(strokes: Sequence[Stroke]) -> Numbers:
    """Return (from, to): what a cut from the one to the other costs."""
    takes = np.array([s.take for s in strokes])
    starts = np.array([s.start for s in strokes])
    angles = np.array([s.angle for s in strokes])
    is_loop = (takes[:, None] == takes[None, :]) & (starts[None, :] <= starts[:, None])
    is_other = angles[:, None] != angles[None, :]
    return np.asarray(np.where(is_other, ANGLE_COSTS, CUT_COSTS) + LOOP_COSTS * is_loop)


class _Row:
    """Finds the cheapest row, exactly: by gap, by how many gaps its shot has lasted, by stroke.

    Shots that have lasted long enough for anything are counted alike, so there are few lengths to
    tell apart. `extra` is what a cut before each gap costs besides; a shot longer than `longest`
    grows dear.
    """

    def __init__(
        self,
        *,
        gaps: Numbers,
        own: Numbers,
        logs: Numbers,
        before: NDArray[np.int64],
        jumps: Numbers,
        extra: Numbers,
        shortest: float,
        longest: float,
    ) -> None:
        self.own, self.before, self.jumps, self.extra = own, before, jumps, extra
        self.gaps = gaps
        self.ends = np.concatenate([[0.0], np.cumsum(gaps)])
        self.shortest, self.longest = shortest, longest
        told = longest if np.isfinite(longest) else shortest
        self.ages = max(_least(self.ends, n, told) - n for n in range(len(gaps)))
        self.steps = np.full_like(logs, np.inf)
        follows = before >= 0
        changes = (logs[1:][:, follows] - logs[:-1][:, before[follows]]) / EASE
        self.steps[1:, follows] = _CHANGE_COSTS * changes**2

    def cheapest(self) -> tuple[int, ...] | None:
        count, many = self.own.shape
        best = np.full((self.ages, many), np.inf)
        best[0] = self.own[0]
        came: list[NDArray[np.int64]] = []
        for gap in range(1, count):
            best, source = self._next(gap, best)
            came.append(source)
        # A passage shorter than a shot may be is one shot.
        is_short = self.ends[-1] < self.shortest - 1e-9
        flat = (best if is_short else self._ready(count, best)).ravel()
        last = int(np.argmin(flat))
        if not np.isfinite(flat[last]):
            return None
        row = [last]
        for source in reversed(came):
            row.append(int(source.ravel()[row[-1]]))
        return tuple(state % many for state in row[::-1])

    def _next(self, gap: int, best: Numbers) -> tuple[Numbers, NDArray[np.int64]]:
        """Return the least costs with gap `gap` filled, and from which state each comes."""
        many = self.own.shape[1]
        new = np.full_like(best, np.inf)
        source = np.zeros(best.shape, dtype=np.int64)
        follows = np.flatnonzero(self.before >= 0)
        came_from = self.before[follows]
        for age in range(self.ages):
            to = min(age + 1, self.ages - 1)
            cost = best[age, came_from] + self.own[gap, follows] + self.steps[gap, follows]
            if self._lasted(gap, age) >= self.longest - 1e-9:
                cost += LONG_SHOT_COSTS * self.gaps[gap]
            better = cost < new[to, follows]
            new[to, follows[better]] = cost[better]
            source[to, follows[better]] = age * many + came_from[better]
        ready = self._ready(gap, best)
        costs = ready.min(axis=0)[:, None] + self.jumps + self.extra[gap]
        pick = np.argmin(costs, axis=0)
        cut = costs[pick, np.arange(many)] + self.own[gap]
        better = cut < new[0]
        new[0, better] = cut[better]
        source[0, better] = (np.argmin(ready, axis=0)[pick] * many + pick)[better]
        return new, source

    def _ready(self, gap: int, best: Numbers) -> Numbers:
        """Return the costs of shots that may end before `gap`; endless for those too short."""
        ready = np.full_like(best, np.inf)
        for age in range(self.ages):
            if age == self.ages - 1 or self._lasted(gap, age) >= self.shortest - 1e-9:
                ready[age] = best[age]
        return ready

    def _lasted(self, gap: int, age: int) -> float:
        """Return how long a shot of `age` more than one gap has lasted before `gap`."""
        first = gap - 1 - age
        return float(self.ends[gap] - self.ends[first]) if first >= 0 else 0.0


def _least(ends: Numbers, first: int, seconds: float) -> int:
    """Return the gap before which a shot that begins at `first` may end at the soonest; one more
    than there are, where what is left is too short."""
    long_enough = np.flatnonzero(ends[first + 1 :] - ends[first] >= seconds - 1e-9)
    return first + 1 + int(long_enough[0]) if len(long_enough) else len(ends)
