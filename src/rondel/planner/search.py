"""A beam over bars with exact rule state, guided and judged by the least that lies ahead.

Half-made plans are rows of arrays. At every bar each is joined with every block that may follow;
joins whose key passes the best plan known are dropped for good, and of the others the best go on.
The least key that was cast aside for want of room is remembered: no plan that was not looked at
is cheaper than that. So the search ends with a plan and a bound, and where the two meet, the plan
is proven to be the best there is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from rondel.model.words import Position
from rondel.planner import taste
from rondel.planner.actions import Actions
from rondel.planner.blocks import Block
from rondel.planner.bound import Solved
from rondel.planner.closing import Closing
from rondel.planner.growth import Growth
from rondel.planner.halfway import Columns, Long, Past, taken
from rondel.planner.joins import Joins
from rondel.planner.judges import Judges
from rondel.planner.outlook import Outlook
from rondel.planner.state import BEFORE
from rondel.planner.table import NEVER, Floats, Ints

_ALIKE = 8  # one plan in so many, of one group, may end with the same technique
_MADE = 2  # times as many plans are judged as go on
_EPS = 1e-9

#: Blocks of a plan with their first bars and positions.
Placed = tuple[tuple[int, Block, Position], ...]


@dataclass(frozen=True, slots=True)
class Searched:
    """The cheapest plan met and its exact cost (None: none was cheaper than the best known); no
    plan of this search costs less than `bound`."""

    placed: Placed | None
    cost: float
    bound: float


class Search:
    """One search over a solved network. `best` is the cost of the best plan known.

    At most about `width` plans go on from a bar; with `is_even` the best ones alone, else a few
    of every kind as well, which finds a plan sooner where rules are tight. With `judges`, which
    are for even searches, twice as many are made and judged, and the best of them go on.
    """

    def __init__(
        self,
        solved: Solved,
        best: float,
        width: int,
        *,
        is_even: bool = False,
        judges: Judges | None = None,
    ) -> None:
        self.solved, self.best, self.width, self.is_even = solved, best, width, is_even
        self.judges = judges
        self._bounds = Long(np.float64)  # by number of a plan, where they are judged
        self.net, self.table = solved.net, solved.table
        self.actions, self.past = Actions(self.table), Past()
        outlook = Outlook(solved, self.actions) if is_even else None
        self.growth = Growth(solved, self.actions, self.past, outlook)
        self.joins = Joins(solved, self.actions, self.growth, self._push)
        self.closing = Closing(solved, self.growth)
        self.lost = NEVER
        self._is_time_felt = self.growth.is_time_felt(best)
        self.found: tuple[int, int] | None = None
        self._waiting: dict[int, list[tuple[Floats, Ints, Ints, Ints]]] = {}
        self._groups = self._group_rows()

    def _group_rows(self) -> Ints:
        """Number the obligations that keep plans apart: some of every group go on."""
        groups: dict[tuple[int, ...], int] = {}
        numbers = []
        for row in self.net.rows:
            n = row.node
            key = (n.phase != BEFORE, n.opens, n.changes, n.keeps)
            numbers.append(groups.setdefault(key, len(groups)))
        return np.array(numbers, dtype=np.int64)

    def run(self, go_on: Callable[[], bool] = lambda: True) -> Searched:
        """Return the cheapest plan met, if it is cheaper than the best known. `go_on` is asked at
        every bar; where it says no, the rest is given up, and nothing is known of a bound."""
        self.joins.best = self.best - _EPS
        self._begin()
        for bar in self.table.bars.tolist():
            if not go_on():
                self.lost = -NEVER
                break
            if bar in self._waiting:
                plans = self._arrive(bar)
                if plans is not None:
                    numbers = self.past.add(plans, bar - self.actions.bars[plans["action"]])
                    self.joins.after(bar, plans, numbers)
                    self._close(plans, numbers)
        bound = min(self.lost, self.best)
        placed = self._trace(*self.found) if self.found else None
        return Searched(placed=placed, cost=self.best if placed else NEVER, bound=bound)

    def _begin(self) -> None:
        """Put the arrivals down."""
        actions, brief = self.actions, self.table.grounds.frame.brief
        self._start: dict[tuple[int, int], float] = {}
        for key, arrival, position, row in self.solved.roots():
            if key < self.best - _EPS:
                action = actions.first_arrival + arrival
                start = taste.position_cost(brief, self.table.positions[position])
                cost = start + float(self.table.arrival_cost[arrival])
                self._start[(action, row)] = cost
                one = np.array([-1]), np.array([action]), np.array([row])
                self._push(int(actions.bars[action]), np.array([key]), *one)

    def _push(self, bar: int, keys: Floats, plans: Ints, actions: Ints, rows: Ints) -> None:
        if self.judges is not None and len(plans) and plans[0] >= 0:
            keys = np.maximum(keys, self._bounds.values[plans])  # no better than what it grew from
            able = keys < self.joins.best
            keys, plans, actions, rows = keys[able], plans[able], actions[able], rows[able]
        self._waiting.setdefault(bar, []).append((keys, plans, actions, rows))

    def _arrive(self, bar: int) -> Columns | None:
        """Choose among the joins that end at `bar`, and make half-made plans of them."""
        keys, plans, actions, rows = (
            np.concatenate(column) for column in zip(*self._waiting.pop(bar), strict=True)
        )
        able = keys < self.joins.best
        keys, plans, actions, rows = keys[able], plans[able], actions[able], rows[able]
        if not len(keys):
            return None
        chosen = self._choose(keys, actions, rows)
        is_first = plans[chosen] < 0
        chosen = np.concatenate([chosen[is_first], chosen[~is_first]])  # as they are made
        made = self.growth.made(bar, plans[chosen], actions[chosen], rows[chosen], self._start)
        if self.judges is None:
            return self._distinct(made)
        made["bound"] = keys[chosen]
        return self._judged(bar, self._distinct(made), self.judges)

    def _judged(self, bar: int, made: Columns, judges: Judges) -> Columns | None:
        """Return those of the plans made that go on, by their judged bounds."""
        judges.raise_bounds(made, self.growth)
        if len(made["row"]) > self.width:
            judges.seek(bar, made, self.growth, self.joins.best)
        order = np.argsort(made["bound"], kind="stable")
        bounds = made["bound"][order]
        order = order[bounds < self.joins.best]
        if len(order) > self.width:
            self.lost = min(self.lost, float(bounds[self.width]))
            order = order[: self.width]
        if not len(order):
            return None
        made = taken(made, np.sort(order))
        self._bounds.extend(made.pop("bound"))
        return made

    def _choose(self, keys: Floats, actions: Ints, rows: Ints) -> Ints:
        """Return the joins that go on, the best first."""
        order = np.argsort(keys, kind="stable")
        if self.is_even:
            most = self.width * (1 if self.judges is None else _MADE)
            if len(order) > most:
                self.lost = min(self.lost, float(keys[order[most]]))
            return order[:most]
        groups, acted = self._groups[rows[order]], actions[order]
        technique, kind = self.actions.techniques[acted, 0], self.actions.kind[acted]
        fit = _rank((groups * 4096 + technique) * 8 + kind) < max(2, self.width // _ALIKE)
        place = np.cumsum(fit) - 1
        least = 1 if self.width < 12 else 2
        keep = fit & ((place < self.width) | (_rank(np.where(fit, groups, -1)) < least))
        if not keep.all():
            self.lost = min(self.lost, float(keys[order[~keep]].min()))
        return order[keep]

    def _distinct(self, made: Columns) -> Columns:
        """Drop plans that have the same past, as far as rules remember it, as a cheaper one."""
        # By cost, not by what is priced: an outlook leaves out what can no longer be asked for.
        order = np.lexsort((made["cost"], made["sign"]))
        signs = made["sign"][order]
        first = np.ones(len(order), dtype=bool)
        first[1:] = signs[1:] != signs[:-1]
        if first.all():
            return made
        if self._is_time_felt:
            # When uses are forgotten in time, it matters also when they were; so what is dropped
            # counts towards the bound.
            doubt = order[~first]
            ahead = self.solved.ahead[made["row"][doubt], made["ending"][doubt]]
            self.lost = min(self.lost, float((made["base"][doubt] + ahead).min()))
        return taken(made, np.sort(order[first]))

    def _close(self, plans: Columns, numbers: Ints) -> None:
        """Hold whole plans that end from here against the best."""
        for number in np.unique(plans["row"]).tolist():
            row = self.net.rows[number]
            if not row.may_close:
                continue
            mine = np.nonzero(plans["row"] == number)[0]
            some = taken(plans, mine)
            mine = mine[self.joins.may_leave(some)]
            found = self.closing.best(row, taken(plans, mine)) if len(mine) else None
            if found is not None and found[0] < self.best - _EPS:
                self.best = found[0]
                self.found = int(numbers[mine[found[1]]]), found[2]
                self.joins.best = self.best - _EPS

    def _trace(self, number: int, close: int) -> Placed:
        """Return the blocks of the whole plan that ends with `close`."""
        placed: list[tuple[int, Block, Position]] = []
        steps = list(self.past.back(number))[::-1]
        bar = 0
        for action, row in steps:
            block = self.actions.blocks[action]
            placed.append((bar, block, self.table.positions[self.net.rows[row].node.position]))
            bar += block.bars
        return (*placed, (bar, self.table.closes[close], placed[-1][2]))


def _rank(groups: Ints) -> Ints:
    """Return how many before each have the same group."""
    order = np.argsort(groups, kind="stable")
    ranked = groups[order]
    starts = np.ones(len(groups), dtype=bool)
    starts[1:] = ranked[1:] != ranked[:-1]
    first = np.maximum.accumulate(np.where(starts, np.arange(len(groups)), 0))
    rank = np.empty(len(groups), dtype=np.int64)
    rank[order] = np.arange(len(groups)) - first
    return rank
