"""What nodes of a network may remember beside their obligations: each memory is a few states.

A memory says what its state is after an arrival and after each action, which actions it forbids
(-1), and what blocks cost for what it remembers. What is remembered so needs no price.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np

from rondel.planner.actions import Actions
from rondel.planner.net import Net, Row
from rondel.planner.outlook import Outlook
from rondel.planner.state import AFTER, BEFORE
from rondel.planner.table import Floats, Ints

#: A sort of memory, and the number of what it is about.
Sort = tuple[str, int]

NO = -1
_MANY = 2  # uses that are told apart; more count as so many


class Memory(Protocol):
    """One more thing that nodes remember. Rows are those of the network as it was."""

    @property
    def sort(self) -> Sort:
        """Names the memory; no two of one sort are of use."""

    def signature(self) -> Ints:
        """Return a number for each own block; blocks of one step and number change it alike."""

    def first(self, action: int) -> int:
        """Return the state after an arrival."""

    def after(self, state: int, row: Row, actions: Ints) -> Ints:
        """Return the states after actions begun at `row`."""

    def settled(self, state: int, number: int) -> int:
        """Return the state at row `number`, with what no longer matters there left out."""

    def costs(self, state: int, row: Row) -> Floats | None:
        """Return what own blocks cost at `row` for what is remembered; None for nothing."""

    def close_costs(self, state: int) -> Floats | None:
        """Return the same of closing passages."""


class _Costless:
    """A memory that only forbids."""

    def costs(self, state: int, row: Row) -> Floats | None:
        return None

    def close_costs(self, state: int) -> Floats | None:
        return None


class LastReturn(_Costless):
    """When the last return ended, and so between which bars the next may begin."""

    sort = "return", 0

    def __init__(self, net: Net, actions: Actions) -> None:
        self.net, self.actions = net, actions
        self.grounds = net.table.grounds

    def signature(self) -> Ints:
        return np.zeros(self.actions.own_count, dtype=np.int64)

    def first(self, action: int) -> int:
        return 0

    def after(self, state: int, row: Row, actions: Ints) -> Ints:
        g, a, done = self.grounds, self.actions, row.node.returns
        found = np.full(len(actions), state)
        if done < g.returns:
            latest = state + g.spacing.most_gap
            is_home = actions == a.home
            ends = row.bar + np.where(is_home, 0, a.bars[actions])
            found[ends > latest] = NO
            if done and row.bar < state + g.spacing.least_gap:
                found[is_home] = NO
            found[is_home & (found != NO)] = row.bar + self.net.table.home.bars
        return found

    def settled(self, state: int, number: int) -> int:
        row, g, net = self.net.rows[number], self.grounds, self.net
        done = row.node.returns
        if not done or done >= g.returns:
            return 0
        is_early = max(row.bar, net.first_start[done]) < state + g.spacing.least_gap
        is_late = state + g.spacing.most_gap < net.last_start[done]
        if is_early or is_late:
            return state
        return max(0, net.last_start[done] - g.spacing.most_gap)  # earlier, and as free


class Runs(_Costless):
    """How long the run at 3 is, and the longest before the peak or, behind it, the peak itself.

    States: the run, and 1000 times the longest run or the peak row.
    """

    sort = "run", 0

    def __init__(self, outlook: Outlook) -> None:
        self.outlook, self.net, self.actions = outlook, outlook.net, outlook.actions
        self.room = outlook.grounds.summit.most_bars // (1 if self.net.is_wide else 2)

    def signature(self) -> Ints:
        return self.actions.is_at_three[: self.actions.own_count].astype(np.int64)

    def first(self, action: int) -> int:
        return 0

    def after(self, state: int, row: Row, actions: Ints) -> Ints:
        a, phase = self.actions, row.node.phase
        longest, run = divmod(state, 1000)
        is_peak, is_three = a.is_peak[actions], a.is_at_three[actions]
        bars = a.bars[actions]
        then = np.where(is_three, run + bars, 0)
        if phase == BEFORE:
            found = 1000 * np.maximum(longest, then) + then
            found[is_three & (then >= self.room)] = NO
            return np.where(is_peak, 1000 * longest, found)
        if phase == AFTER:
            return np.where(is_three & (then >= longest), NO, 1000 * longest + then)
        length = row.node.row  # the node knows how long the row is while it may grow
        found = np.where(is_three & (then >= length), NO, 1000 * length + then)
        if length <= longest:
            found[:] = NO
        return np.where(is_peak, 1000 * longest, found)

    def settled(self, state: int, number: int) -> int:
        longest, run = divmod(state, 1000)
        phase, grounds = self.net.rows[number].node.phase, self.outlook.grounds
        if not self.outlook.runs[number]:
            run = 0
            longest = 0 if phase == AFTER else longest
        if phase == BEFORE and longest < grounds.shortest_peak:
            longest = 0  # any peak is longer
        return 1000 * longest + run


class LongStrokes:
    """Whether a long stroke has passed a place on which small areas are worked."""

    def __init__(self, outlook: Outlook, region: int) -> None:
        self.outlook, self.actions, self.bit = outlook, outlook.actions, region
        a, table = self.actions, outlook.table
        self.sort = "stroke", region
        price = table.prices.small_areas
        smalls = (a.small_early, a.small_late)
        self._costs = [price * _has(small[: a.own_count], region) for small in smalls]
        small = np.array([block.small for block in table.closes], dtype=np.int64)
        self._close_costs = price * _has(small, region)
        self._passes = _has(a.wide, region).astype(np.int64)

    def signature(self) -> Ints:
        return np.asarray(self._passes[: self.actions.own_count])

    def first(self, action: int) -> int:
        return int(self._passes[action])

    def after(self, state: int, row: Row, actions: Ints) -> Ints:
        return np.asarray(np.maximum(state, self._passes[actions]))

    def settled(self, state: int, number: int) -> int:
        return state if self.outlook.wide[number] >> self.bit & 1 else 1

    def costs(self, state: int, row: Row) -> Floats | None:
        is_early = row.bar < self.outlook.grounds.first_stretch
        return None if state else np.asarray(self._costs[0 if is_early else 1])

    def close_costs(self, state: int) -> Floats | None:
        return None if state else np.asarray(self._close_costs)


class Warmed(_Costless):
    """How far a place that may be worked deep is warmed."""

    def __init__(self, outlook: Outlook, slot: int) -> None:
        self.outlook, self.actions, self.slot = outlook, outlook.actions, slot
        self.sort, self.need = ("warm", slot), outlook.grounds.warm_need
        self._warms = np.minimum(self.actions.warms[:, slot], self.need)
        self._is_deep = self.actions.deep_slot == slot

    def signature(self) -> Ints:
        count = self.actions.own_count
        return np.asarray(2 * self._warms[:count] + self._is_deep[:count])

    def first(self, action: int) -> int:
        return int(self._warms[action])

    def after(self, state: int, row: Row, actions: Ints) -> Ints:
        found = np.minimum(self.need, state + self._warms[actions])
        return np.where(self._is_deep[actions] & (state < self.need), NO, found)

    def settled(self, state: int, number: int) -> int:
        return state if self.outlook.warmed[number, self.slot] else self.need


class Used:
    """How often a technique came before."""

    def __init__(self, outlook: Outlook, technique: int) -> None:
        self.outlook, self.actions, self.technique = outlook, outlook.actions, technique
        a, table = self.actions, outlook.table
        self.sort = "technique", technique
        self._uses = (a.techniques == technique).any(axis=1).astype(np.int64)
        self._price = table.prices.again
        closing = [technique in block.numbers for block in table.closes]
        self._closing = np.array(closing, dtype=np.float64)

    def signature(self) -> Ints:
        return np.asarray(self._uses[: self.actions.own_count])

    def first(self, action: int) -> int:
        return int(self._uses[action])

    def after(self, state: int, row: Row, actions: Ints) -> Ints:
        return np.asarray(np.minimum(_MANY, state + self._uses[actions]))

    def settled(self, state: int, number: int) -> int:
        return state if self.outlook.uses[number, self.technique] else _MANY

    def costs(self, state: int, row: Row) -> Floats | None:
        return np.asarray(self._price * state * self.signature()) if state else None

    def close_costs(self, state: int) -> Floats | None:
        return self._price * state * self._closing if state else None


def _has(bits: Ints, bit: int) -> Ints:
    return bits >> bit & 1
