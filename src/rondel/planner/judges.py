"""Half-made plans judged under several sets of prices: the highest bound counts.

Prices that make the bound of all plans highest say little of a plan that has already used this and
neglected that. So prices are also sought for half-made plans that keep the bound of a search down,
as if each were the beginning; and whatever prices there are, they hold for every half-made plan.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from rondel.planner.ascent import ascend
from rondel.planner.bound import Solved
from rondel.planner.growth import Growth
from rondel.planner.halfway import Columns, taken
from rondel.planner.multipliers import Uses
from rondel.planner.state import BEFORE
from rondel.planner.table import Floats, Ints

_LEVELS = 4  # of uses told apart; what more of them cost is left out, which only lowers a bound
_ROUNDS = 6  # of ascent for a half-made plan
_AT_A_BAR = 2  # plans of one bar for which prices are sought
_APART = 16  # into so many parts a form is cut, and at each of them they are sought ...
_FROM = 8  # ... but not in the first of so many
_LEAST = 0.02  # that new prices must raise the bound by
_EPS = 1e-9


class Standing:
    """The end of one half-made plan, as a start of `ascend`."""

    def __init__(self, plan: Columns, growth: Growth) -> None:
        self.plan, self.growth = plan, growth
        self.row, self.ending = int(plan["row"][0]), int(plan["ending"][0])

    @property
    def earlier(self) -> tuple[Ints | None, Ints | None]:
        uses, there = self.plan["uses"][0, :-1], self.plan["there"][0, :-1]
        return uses.astype(np.int64), there.astype(np.int64)

    def value(self, solved: Solved) -> float:
        base = float(self.growth.priced(self.plan, solved)[0])
        return base + float(solved.ahead[self.row, self.ending])

    def uses(self, solved: Solved) -> Uses:
        growth, material = self.growth, self.growth.material
        warm = np.zeros(max(1, len(growth.grounds.slots)))
        warmed = growth.warm(self.plan)[0]
        warm[: len(warmed)] -= warmed
        short = growth.short(self.plan)[0] if material.mains else np.zeros(1)
        techniques, regions = np.zeros(len(material.techniques)), np.zeros(len(material.region_ids))
        found = solved.uses_from(self.row, self.ending, Uses(techniques, regions, short, warm))
        if growth.phases[self.row] != BEFORE:
            found.warmth[:] = 0.0  # no longer priced
        return found


@dataclass
class Judges:
    """Sets of prices, each solved on the network of one search. Up to `most` are sought anew while
    it goes on, for plans with the least bounds."""

    solved: list[Solved]
    most: int = 0
    sought: list[Solved] = field(default_factory=list, init=False)
    helped: list[int] = field(init=False)  # how often each set told most
    _tries: int = field(default=0, init=False)
    _asked: int = field(default=-(10**9), init=False)  # the bar at which prices were last sought
    _weights: tuple[Floats, ...] | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        self.helped = [0] * len(self.solved)

    def telling(self) -> list[int]:
        """Return the numbers of the sets that told something, those that told most first."""
        order = sorted(range(len(self.solved)), key=lambda i: -self.helped[i])
        return [i for i in order if self.helped[i]]

    def raise_bounds(self, made: Columns, growth: Growth) -> None:
        """Raise the `bound` of each half-made plan to what the prices at hand tell."""
        if not self.solved:
            return
        bounds = self._bounds(made, growth)
        which = bounds.argmax(axis=1)
        found = bounds[np.arange(len(which)), which]
        for i in which[found > made["bound"] + _EPS].tolist():
            self.helped[i] += 1
        made["bound"] = np.maximum(made["bound"], found)

    def seek(self, bar: int, made: Columns, growth: Growth, best: float) -> None:
        """Look for prices that tell more of those plans at `bar` that keep the bound down, if it is
        time for that."""
        bars = growth.grounds.bars
        if self._tries >= self.most or bar < max(self._asked + bars // _APART, bars // _FROM):
            return
        self._asked = bar
        later = growth.solved.relaxation.later(bar)
        for _ in range(_AT_A_BAR):
            least = int(np.argmin(made["bound"]))
            if made["bound"][least] >= best - _EPS:
                return
            self._tries += 1
            standing = Standing(taken(made, slice(least, least + 1)), growth)
            start = max([growth.solved, *self.solved], key=standing.value)
            found = ascend(later, start, best, _ROUNDS, standing)
            if standing.value(found) < made["bound"][least] + _LEAST:
                return
            self.solved.append(found)
            self.sought.append(found)
            self.helped.append(0)
            self._weights = None
            self.raise_bounds(made, growth)

    def _bounds(self, made: Columns, growth: Growth) -> Floats:
        """Return the bound of each plan under each set of prices. Shape (plans, sets)."""
        if self._weights is None:
            self._weights = self._weigh()
        uses, never, short, warm = self._weights
        counts = (made["uses"][:, :-1], made["there"][:, :-1])
        levels = [count > level for count in counts for level in range(_LEVELS)]
        found = np.concatenate(levels, axis=1).astype(np.float64) @ uses
        found += never + made["cost"][:, None]
        if growth.material.mains:
            found += growth.short(made) @ short
        found -= growth.warm(made) @ warm
        row, ending = made["row"], made["ending"]
        for i, solved in enumerate(self.solved):
            found[:, i] += solved.ahead[row, ending]
        return np.asarray(found, dtype=np.float64)

    def _weigh(self) -> tuple[Floats, ...]:
        """Gather the prices of all sets, one column each: by which credits rise with each use,
        credits of what was never used, shortages, warmth."""
        rises, never = [], []
        for solved in self.solved:
            parts = (solved.credits.techniques, solved.credits.regions)
            each = [np.diff(part[:, : _LEVELS + 1], axis=1).T.ravel() for part in parts]
            rises.append(np.concatenate(each))
            never.append(sum(part[:, 0].sum() for part in parts))
        ats = [solved.at for solved in self.solved]
        short = np.stack([at.shortages for at in ats], axis=1)
        warm = np.stack([at.warmth for at in ats], axis=1)
        return np.stack(rises, axis=1), np.array(never), short, warm
