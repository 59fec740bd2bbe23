"""Nodes of the network by number, the places (a node at a bar) that are reached, and where own
blocks lead from one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rondel.planner.blocks import Block, Kind
from rondel.planner.state import FILLER, RHYTHM, STRETCH
from rondel.planner.table import Bools, Ints

_FIRST_NODES = 64


class Node(NamedTuple):
    """What has been done up to a bar. `position` is a place in the refrain's positions, `row` the
    bars of the peak row so far, while it may still grow."""

    returns: int
    phase: int
    opens: int
    changes: int
    position: int
    keeps: int
    flags: int
    row: int
    mode: int


#: What a step changes: bars by which the peak row grows, the keep (or -1), the flags then.
Change = tuple[int, int, int]


class Step(NamedTuple):
    """Own blocks that change a node alike."""

    bars: int
    is_peak: bool
    keep: int
    alternates: bool
    light: bool
    stretch: bool


def step_of(block: Block) -> Step:
    is_peak = block.kind is Kind.PEAK
    return Step(block.bars, is_peak, block.keep, block.alternates, block.light, block.stretch)


@dataclass(frozen=True, slots=True)
class Pattern:
    """Where steps lead: landing bars `ends`, each with `which` of the `changes`; and for each step
    its landing (-1: none), first as a filler where it may be one, then without (the same array
    where none may be)."""

    changes: tuple[Change, ...]
    which: Ints
    ends: Ints
    of_step: Ints
    of_plain_step: Ints

    def later(self, bars: int) -> Pattern:
        """Return the same that many bars later."""
        return Pattern(self.changes, self.which, self.ends + bars, self.of_step, self.of_plain_step)


class Steps:
    """Steps as arrays."""

    def __init__(self, steps: list[Step]) -> None:
        columns = list(zip(*steps, strict=True)) or [()] * len(Step._fields)
        self.bars: Ints = np.array(columns[0], dtype=np.int64)
        self.is_peak: Bools = np.array(columns[1], dtype=bool)
        self.keeps = [int(keep) for keep in columns[2]]
        self.alternates: Bools = np.array(columns[3], dtype=bool)
        self.light: Bools = np.array(columns[4], dtype=bool)
        self.stretch: Bools = np.array(columns[5], dtype=bool)
        self.kept = [i for i, keep in enumerate(self.keeps) if keep >= 0]
        # A landing as one number, so that equal ones are found at once: keep, growth, bars; flags.
        grows = np.where(self.is_peak, self.bars, 0)
        self._base = int(self.bars.max(initial=0)) + 1
        keeps = np.array(self.keeps, dtype=np.int64) + 1
        self._codes = ((keeps * self._base + grows) * self._base + self.bars) * 8

    def pattern(self, able: Bools, flags: int, *, may_filler: bool, may_rhythm: bool) -> Pattern:
        """Return where the steps that are `able` lead from a node with `flags` at bar 0."""
        chosen = np.nonzero(able)[0]
        marks = np.full(len(chosen), flags)
        marks |= np.where(self.stretch[chosen], STRETCH, 0)
        if may_rhythm:
            marks |= np.where(self.alternates[chosen], RHYTHM, 0)
        plain = self._codes[chosen] + marks
        light = np.nonzero(self.light[chosen])[0] if may_filler else np.zeros(0, dtype=np.int64)
        codes = np.concatenate([plain, plain[light] | FILLER])
        landings, number = np.unique(codes, return_inverse=True)
        of_plain = np.full(len(self.bars), -1, dtype=np.int64)
        of_plain[chosen] = number[: len(chosen)]
        of_step = of_plain.copy() if len(light) else of_plain
        of_step[chosen[light]] = number[len(chosen) :]
        kinds = landings // (8 * self._base) * 8 + landings % 8
        changes, which = np.unique(kinds, return_inverse=True)
        ends = landings // 8 % self._base
        return Pattern(tuple(map(self._change, changes.tolist())), which, ends, of_step, of_plain)

    def _change(self, code: int) -> Change:
        keep, grows = divmod(code // 8, self._base)
        return grows, keep - 1, code % 8


class Places:
    """Nodes by number, and the places (a node at a bar) that are reached: number times `stride`
    plus the bar."""

    def __init__(self, bars: int) -> None:
        self.stride = bars + 1
        self.nodes: list[Node] = []
        self._numbers: dict[Node, int] = {}
        self._reached: Bools = np.zeros(_FIRST_NODES * self.stride, dtype=bool)
        self._waiting: dict[int, list[int]] = {}
        self._order: list[int] = []
        self._rows: NDArray[np.int32] | None = None

    def number(self, node: Node) -> int:
        """Return the number of a node."""
        if node not in self._numbers:
            self._numbers[node] = len(self.nodes)
            self.nodes.append(node)
            if len(self.nodes) * self.stride > len(self._reached):
                self._reached = np.concatenate([self._reached, np.zeros_like(self._reached)])
        return self._numbers[node]

    def at(self, number: int, bar: int) -> int:
        return number * self.stride + bar

    def reach(self, place: int) -> None:
        """Remember that a place is reached."""
        if not self._reached[place]:
            self._reached[place] = True
            number, bar = divmod(place, self.stride)
            self._waiting.setdefault(bar, []).append(number)

    def reach_all(self, places: Ints) -> None:
        for place in places[~self._reached[places]].tolist():
            self.reach(place)

    def met(self, bar: int) -> list[int]:
        """Return the nodes reached at `bar`, in the order in which they were."""
        return self._waiting.pop(bar, [])

    def none_yet(self) -> Bools:
        """Return False for every place."""
        return np.zeros(len(self.nodes) * self.stride, dtype=bool)

    def count(self, places: list[int]) -> None:
        """Number `places` in their order."""
        self._order = places

    def rows(self) -> NDArray[np.int32]:
        """Return the number of each place; how many are numbered for all others, and for a place of
        -1."""
        if self._rows is None:
            count = len(self._order)
            self._rows = np.full(len(self.nodes) * self.stride + 1, count, dtype=np.int32)
            self._rows[self._order] = np.arange(count)
        return self._rows
