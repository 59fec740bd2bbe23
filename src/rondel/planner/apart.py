"""A search that stays apart from other plans: of each of them, only so many bars may be shared."""

from __future__ import annotations

import copy
from collections.abc import Sequence

import numpy as np

from rondel.model.routine import Routine
from rondel.planner.blocks import Block
from rondel.planner.bound import Solved
from rondel.planner.halfway import Columns
from rondel.planner.nearness import Likeness
from rondel.planner.search import Search
from rondel.planner.table import Ints, Table


class Shared:
    """How many bars each block of a table shares with each of some routines, wherever it stands.

    Shapes: K routines, A actions of a search (`actions.Actions`), T bars, C closing passages.
    """

    def __init__(self, table: Table, known: Sequence[Routine]) -> None:
        self._likenesses = [Likeness(routine, by_pressure=False) for routine in known]
        self.own_count = len(table.own)
        between = [*table.own, table.home, *table.opens, *table.turns.values()]
        self.first_arrival = len(between)
        self.between = self._counts(between, table.bars)  # K x A x T
        self.arrivals = self._counts(table.arrivals, np.zeros(1, dtype=np.int64))[:, :, 0]
        self.closes = np.zeros((len(known), len(table.closes)), dtype=np.int64)  # K x C
        for left in np.unique(table.close_bars).tolist():
            mine = np.nonzero(table.close_bars == left)[0]
            at = np.array([table.grounds.bars - left])
            some = [table.closes[i] for i in mine]
            self.closes[:, mine] = self._counts(some, at)[:, :, 0]
        self._tick = np.zeros(table.grounds.bars + 1, dtype=np.int64)
        self._tick[table.bars] = np.arange(len(table.bars))

    def _counts(self, blocks: list[Block], bars: Ints) -> Ints:
        return np.stack([like.table(blocks, bars) for like in self._likenesses]).astype(np.int64)

    def of(self, actions: Ints, starts: Ints) -> Ints:
        """Return the shared bars of actions begun at `starts`. Shape (actions, K)."""
        count = np.zeros((len(actions), len(self._likenesses)), dtype=np.int64)
        first = actions >= self.first_arrival
        count[first] = self.arrivals[:, actions[first] - self.first_arrival].T
        count[~first] = self.between[:, actions[~first], self._tick[starts[~first]]].T
        return count

    def priced(self, table: Table, price: float) -> Table:
        """Return `table` in which every shared bar of work, refrain, arrival and close costs so
        much, once for each routine."""
        dearer = copy.copy(table)
        between = price * self.between.sum(axis=0)
        dearer.own_cost = table.own_cost + between[: self.own_count]
        dearer.home_cost = table.home_cost + between[self.own_count]
        dearer.arrival_cost = table.arrival_cost + price * self.arrivals.sum(axis=0)
        dearer.close_cost = table.close_cost + price * self.closes.sum(axis=0)
        return dearer


class SearchApart(Search):
    """A search whose plans share at most `most` bars with each of the routines of `shared`.

    The bounds that it returns hold only for plans that it may look at.
    """

    def __init__(self, solved: Solved, best: float, width: int, shared: Shared, most: int) -> None:
        super().__init__(solved, best, width)
        self._shared, self._most = shared, most
        self._counts = np.zeros(
            (0, len(shared.closes)), dtype=np.int64
        )  # of all plans that went on

    def _sums(self, bar: int, plans: Ints, actions: Ints) -> Ints:
        """Return the bars shared once `actions`, which end at `bar`, follow `plans`."""
        added = self._shared.of(actions, bar - self.actions.bars[actions])
        begun = plans >= 0
        added[begun] += self._counts[plans[begun]]
        return added

    def _arrive(self, bar: int) -> Columns | None:
        """Choose among the joins that are apart enough."""
        able = []
        for keys, plans, actions, rows in self._waiting[bar]:
            fine = (self._sums(bar, plans, actions) <= self._most).all(axis=1)
            able.append((keys[fine], plans[fine], actions[fine], rows[fine]))
        self._waiting[bar] = able
        made = super()._arrive(bar)
        if made is not None:
            self._counts = np.vstack(
                [self._counts, self._sums(bar, made["parent"], made["action"])]
            )
        return made

    def _close(self, plans: Columns, numbers: Ints) -> None:
        """Hold plans against the best that stay apart however they end from here."""
        bar = self.net.rows[int(plans["row"][0])].bar
        ends = self.table.close_bars == self.table.grounds.bars - bar
        if not ends.any():
            return
        last = self._shared.closes[:, ends].max(axis=1)
        fine = (self._counts[numbers] + last <= self._most).all(axis=1)
        if fine.any():
            super()._close({name: column[fine] for name, column in plans.items()}, numbers[fine])
