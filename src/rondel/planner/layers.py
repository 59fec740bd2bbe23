"""Rows of the network at one bar, in one position, after the same kind of block: what can be solved
at one go, as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rondel.planner.net import Net, Row
from rondel.planner.state import BEFORE
from rondel.planner.table import NEVER, Bools, Floats, Ints, Table

_AT_ONCE = 120_000  # sums held at one time; more would not fit into the cache


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """Shapes: N rows, B blocks that may follow, C ways in which these begin, E endings that may
    stand before the rows.

    `starts` is where in `own` each way to begin has its first block. `places` (N x B) says where
    in the flat table of what lies ahead a block leads. `peaks` is the number of the costs
    (`Relaxation.peak_costs`) of blocks as part of the peak, 0 for none. `homes` and `opens` are the
    rows after a return and after open bars, `turns` the same by position with its costs; the net's
    `count` stands for none. `closing` are the places of rows that may close.
    """

    bar: int
    tick: int
    position: int
    mode: int
    rows: Ints
    own: Ints
    starts: Ints
    begins: Ints
    ends: Ints
    places: NDArray[np.int32]
    peaks: Ints
    is_before: Bools  # the peak is still to come
    homes: Ints
    spreads: Floats
    opens: Ints
    open_costs: Floats
    turns: tuple[tuple[int, Ints, Floats], ...]
    closing: Ints

    def kept(self, rows: Bools, own: Bools, ends: Bools, table: Table) -> Layer:
        """Return the layer with some of its rows, blocks and endings."""
        blocks = self.own[own]
        begins, starts = np.unique(table.begin_of[blocks], return_index=True)
        number = np.cumsum(rows) - 1
        closing = self.closing[rows[self.closing]]
        return replace(
            self,
            rows=self.rows[rows],
            own=blocks,
            starts=starts,
            begins=begins,
            ends=self.ends[ends],
            places=np.ascontiguousarray(self.places[np.ix_(rows, own)]),
            peaks=self.peaks[rows],
            is_before=self.is_before[rows],
            homes=self.homes[rows],
            spreads=self.spreads[rows],
            opens=self.opens[rows],
            open_costs=self.open_costs[rows],
            turns=tuple((p, to[rows], cost[rows]) for p, to, cost in self.turns),
            closing=number[closing],
        )


def layers_of(net: Net, own_in: Sequence[Ints], peak_number: Sequence[int]) -> list[Layer]:
    """Return the layers of the net, the last bars first, without blocks that may never stand there
    and endings that never come before. `peak_number` has one number a row of the net."""
    found: dict[tuple[int, int, int], list[int]] = {}
    for number, row in enumerate(net.rows):
        found.setdefault((-row.bar, row.node.position, row.node.mode), []).append(number)
    ordered = [(own_in[key[1]], found[key]) for key in sorted(found)]
    met = _endings(net, ordered)
    return [_layer(net, own, numbers, peak_number, met) for own, numbers in ordered]


def _endings(net: Net, ordered: list[tuple[Ints, list[int]]]) -> Bools:
    """Return which endings may stand before each row. Shape (rows and none, endings)."""
    table, none = net.table, net.count
    met = np.zeros((none + 1, len(table.end_blocks)), dtype=bool)
    for i, block in enumerate(table.arrivals):
        for p, _ in enumerate(table.positions):
            met[net.root_row(block, p), table.arrival_end[i]] = True
    for own, numbers in reversed(ordered):
        able = np.isfinite(table.own_cost[own, net.rows[numbers[0]].tick])
        some = own[able]
        steps, ends = net.step_of[some], table.end_of[some]
        for number in numbers:
            row = net.rows[number]
            if met[number].any():
                met[row.steps[steps], ends] = True
                met[row.plain_steps[steps], ends] = True
                for to in (row.home, row.open, *(turned for _, turned, _ in row.turns)):
                    met[to] |= met[number]
    return met


def _layer(
    net: Net, own: Ints, numbers: list[int], peak_number: Sequence[int], met: Bools
) -> Layer:
    table = net.table
    rows: list[Row] = [net.rows[number] for number in numbers]
    first = rows[0]
    landing = np.stack([row.steps[net.step_of[own]] for row in rows])
    able = np.isfinite(table.own_cost[own, first.tick]) & (landing != net.count).any(axis=0)
    own, landing = own[able], landing[:, able]
    begins, starts = np.unique(table.begin_of[own], return_index=True)
    places = (landing * len(table.end_blocks) + table.end_of[own]).astype(np.int32)
    positions = sorted({p for row in rows for p, _, _ in row.turns})
    return Layer(
        bar=first.bar,
        tick=first.tick,
        position=first.node.position,
        mode=first.node.mode,
        rows=np.array(numbers, dtype=np.int64),
        own=own,
        starts=starts,
        begins=begins,
        ends=np.nonzero(met[numbers].any(axis=0))[0],
        places=places,
        peaks=np.array([peak_number[number] for number in numbers], dtype=np.int64),
        is_before=np.array([row.node.phase == BEFORE for row in rows]),
        homes=np.array([row.home for row in rows], dtype=np.int64),
        spreads=np.array([row.spread for row in rows]),
        opens=np.array([row.open for row in rows], dtype=np.int64),
        open_costs=np.array([row.open_cost for row in rows]),
        turns=tuple((p, *_turned(rows, p, net.count)) for p in positions),
        closing=np.array([i for i, row in enumerate(rows) if row.may_close], dtype=np.int64),
    )


def _turned(rows: list[Row], position: int, none: int) -> tuple[Ints, Floats]:
    """Return where turning to `position` leads from each of `rows`, and what it costs."""
    known = [{p: (to, cost) for p, to, cost in row.turns} for row in rows]
    pairs = [turns.get(position, (none, NEVER)) for turns in known]
    return np.array([to for to, _ in pairs], dtype=np.int64), np.array([c for _, c in pairs])


def joined_least(links: Floats, least: Floats) -> Floats:
    """Return for each row and ending the least of link and what follows. `links` is (E, C),
    `least` (N, C); the answer (N, E)."""
    found = np.empty((len(least), len(links)))
    some = max(1, _AT_ONCE // max(1, links.size))
    space = np.empty((min(some, len(least)), *links.shape))
    for i in range(0, len(least), some):
        part = least[i : i + some]
        sums = space[: len(part)]
        np.add(links[None], part[:, None], out=sums)
        np.min(sums, axis=2, out=found[i : i + some])
    return found
