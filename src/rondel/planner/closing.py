"""The close: every whole plan that a half-made one can become at once, at its exact cost."""

from __future__ import annotations

import numpy as np

from rondel.planner import taste
from rondel.planner.blocks import Block
from rondel.planner.bound import Solved
from rondel.planner.constraints import rhythm
from rondel.planner.growth import Growth
from rondel.planner.halfway import Columns
from rondel.planner.net import Row
from rondel.planner.state import FILLER, RHYTHM, STRETCH
from rondel.planner.table import NEVER, Floats


class Closing:
    """Exact costs of whole plans."""

    def __init__(self, solved: Solved, growth: Growth) -> None:
        self.solved, self.growth = solved, growth
        self.table, self.grounds = solved.table, solved.table.grounds
        self.prices, self.material = self.table.prices, self.table.material
        self.asks_rhythm = rhythm.is_asked(self.grounds.intention)

    def best(self, row: Row, some: Columns) -> tuple[float, int, int] | None:
        """Return (cost, row of `some`, number of the closing passage) of the cheapest end."""
        table, g = self.table, self.grounds
        able = table.close_bars == g.bars - row.bar
        able = able & self.solved.relaxation.close_in[row.node.position]
        which = np.nonzero(able)[0]
        if not len(which):
            return None
        links = self.solved.closing_links(row.node.mode, row.node.position)
        cost = some["cost"][:, None] + links[some["ending"][:, None], which[None, :]]
        cost += table.close_cost[which] + self._undone(some)[:, None]
        for column, close in enumerate(which.tolist()):
            cost[:, column] += self._history(table.closes[close], some, row.bar)
        best = int(np.argmin(cost))
        plan, column = divmod(best, cost.shape[1])
        least = float(cost[plan, column])
        return (least, plan, int(which[column])) if least < NEVER else None

    def _history(self, block: Block, some: Columns, bar: int) -> Floats:
        """Return what a closing passage costs for what came before; never where it may not be."""
        numbers = list(block.numbers)
        cost = self.prices.again * some["uses"][:, numbers].astype(np.int64).sum(axis=1)
        often = some["lately"][:, numbers] >= self.prices.max_times
        cost = cost + self.prices.too_often * often.sum(axis=1)
        region = block.entry_region
        cost = cost + self.growth.place[region] * some["there"][:, region]
        if block.small:
            cost = cost + self.prices.small_areas * (some["wide"] & block.small == 0)
        done = some["keeps"] | (1 << block.keep if block.keep >= 0 else 0)
        never = done != self.grounds.all_keeps
        window = self.grounds.keep_windows[block.keep] if block.keep >= 0 else None
        if window is not None and not window[0] <= bar <= window[1]:
            never = np.ones(len(cost), dtype=bool)
        if self.grounds.summit.is_brightest:
            never = never | (block.energy > some["peak_energy"])
        return np.where(never, NEVER, cost)

    def _undone(self, some: Columns) -> Floats:
        """Return what plans cost for what they leave undone."""
        flags, mains = some["flags"], len(self.material.mains)
        total = taste.UNTURNED * np.maximum(0, self.material.turns - some["changes"])
        if self.asks_rhythm:
            total = total + self.prices.rhythm * (flags & RHYTHM == 0)
        total = total + self.prices.filler * (flags & FILLER == 0)
        if self.material.may_stretch:
            total = total + taste.NO_STRETCH * (flags & STRETCH == 0)
        if mains:
            wanted = self.prices.min_share * some["counted"]
            short = np.maximum(0.0, wanted - some["main"].sum(axis=1))
            lean = np.maximum(0.0, wanted[:, None] / mains - some["main"]).sum(axis=1)
            rate = self.prices.focus / (self.prices.min_share * self.grounds.worked)
            total = total + rate * (short + lean)
        return np.asarray(total, dtype=np.float64)
