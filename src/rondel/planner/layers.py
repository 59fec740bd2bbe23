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
        begins, starts = _runs(table.begin_of[blocks])
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
        found.setdefault((row.bar, row.node.position, -row.node.mode), []).append(number)
    met = _first_endings(net)
    peaks = np.array(peak_number, dtype=np.int64)
    layers = [_layer(net, own_in[key[1]], found[key], peaks, met) for key in sorted(found)]
    return layers[::-1]


def _first_endings(net: Net) -> Bools:
    """Return which endings stand before each row after an arrival. Shape (rows and none, E)."""
    table = net.table
    met = np.zeros((net.count + 1, len(table.end_blocks)), dtype=bool)
    for i, block in enumerate(table.arrivals):
        for p, _ in enumerate(table.positions):
            met[net.root_row(block, p), table.arrival_end[i]] = True
    return met


def _layer(net: Net, own: Ints, numbers: list[int], peaks: Ints, met: Bools) -> Layer:
    """Return one layer, and mark in `met` the endings with which it is left."""
    table = net.table
    rows: list[Row] = [net.rows[number] for number in numbers]
    first = rows[0]
    steps = np.stack([row.steps for row in rows])
    able = np.isfinite(table.own_cost[own, first.tick])
    able &= (steps != net.count).any(axis=0)[net.step_of[own]]
    own = own[able]
    begins, starts = _runs(table.begin_of[own])
    places = steps[:, net.step_of[own]] * len(table.end_blocks) + table.end_of[own]
    layer = Layer(
        bar=first.bar,
        tick=first.tick,
        position=first.node.position,
        mode=first.node.mode,
        rows=np.array(numbers, dtype=np.int64),
        own=own,
        starts=starts,
        begins=begins,
        ends=np.nonzero(met[numbers].any(axis=0))[0],
        places=places.astype(np.int32),
        peaks=peaks[numbers],
        is_before=np.array([row.node.phase == BEFORE for row in rows]),
        homes=np.array([row.home for row in rows], dtype=np.int64),
        spreads=np.array([row.spread for row in rows]),
        opens=np.array([row.open for row in rows], dtype=np.int64),
        open_costs=np.array([row.open_cost for row in rows]),
        turns=_turns(rows, net.count),
        closing=np.array([i for i, row in enumerate(rows) if row.may_close], dtype=np.int64),
    )
    _mark(net, rows, layer, met)
    return layer


def _runs(ranked: Ints) -> tuple[Ints, Ints]:
    """Return the numbers in `ranked` (blocks stand in the order of how they begin), each once, and
    where each has its first place."""
    is_first = np.empty(len(ranked), dtype=bool)
    is_first[:1] = True
    np.not_equal(ranked[1:], ranked[:-1], out=is_first[1:])
    starts = np.flatnonzero(is_first)
    return ranked[starts], starts


def _mark(net: Net, rows: list[Row], layer: Layer, met: Bools) -> None:
    """Mark the endings with which `rows` are left; light blocks may lead to two rows."""
    table = net.table
    is_met = met[layer.rows].any(axis=1)
    flat = met.reshape(-1)
    flat[layer.places[is_met]] = True
    if layer.bar >= table.grounds.first_filler:
        plain = np.stack([row.plain_steps for row in rows])[:, net.step_of[layer.own]]
        flat[(plain * len(table.end_blocks) + table.end_of[layer.own])[is_met]] = True
    for to in (layer.homes, layer.opens, *(rows_then for _, rows_then, _ in layer.turns)):
        leads = np.nonzero(to != net.count)[0]
        for number, following in zip(layer.rows[leads].tolist(), to[leads].tolist(), strict=True):
            met[following] |= met[number]


def _turns(rows: list[Row], none: int) -> tuple[tuple[int, Ints, Floats], ...]:
    """Return the positions that `rows` may turn to, where that leads, and what it costs."""
    known = [{p: (to, cost) for p, to, cost in row.turns} for row in rows]
    found = []
    for position in sorted({p for turns in known for p in turns}):
        pairs = [turns.get(position, (none, NEVER)) for turns in known]
        to = np.array([number for number, _ in pairs], dtype=np.int64)
        found.append((position, to, np.array([cost for _, cost in pairs])))
    return tuple(found)
