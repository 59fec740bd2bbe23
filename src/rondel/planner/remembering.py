"""A network whose nodes remember one thing more, built from a solved one.

Every row becomes one row for each state of a memory in which it can be reached. What the memory
forbids is left out, and what it says that blocks cost is added; so the cheapest way is dearer and
nearer to the truth. Only the rows that are left after `fixing` are taken over.
"""

from __future__ import annotations

import copy
from dataclasses import replace

import numpy as np

from rondel.planner.actions import Actions
from rondel.planner.bound import Relaxation, Solved
from rondel.planner.layers import Layer
from rondel.planner.memories import NO, Memory
from rondel.planner.multipliers import Repeats
from rondel.planner.net import Net, Row, TooLarge
from rondel.planner.table import Floats, Ints


class Remembering:
    """Builds the network of `solved` with one more memory; TooLarge where it has more than about
    `most` joins."""

    def __init__(self, solved: Solved, memory: Memory, actions: Actions, most: int = 10**9) -> None:
        self._left = most
        self.relaxation, self.memory, self.actions = solved.relaxation, memory, actions
        self.net, self.table = solved.net, solved.table
        self._numbers: dict[tuple[int, int], int] = {}
        self._states: dict[int, list[int]] = {}
        self._rows: dict[int, Row] = {}
        self._costs: dict[tuple[int, int, bool], int] = {}
        self._peak_costs: list[Floats] = [self.relaxation.peak_costs[0]]
        self._past: dict[tuple[int, int], int] = {}
        self._close_costs: list[Floats] = []
        self._number_steps()

    def _number_steps(self) -> None:
        """Number the steps anew: of one old step, blocks that the memory tells apart."""
        signature = self.memory.signature()
        codes = self.net.step_of * (int(signature.max(initial=0)) + 1) + signature
        _, self._sample, step_of = np.unique(codes, return_index=True, return_inverse=True)
        self.step_of = np.asarray(step_of, dtype=np.int64).reshape(-1)
        self._old_step = self.net.step_of[self._sample]

    def built(self) -> Relaxation:
        """Return the network."""
        roots = self._begin()
        layers = [self._layer(layer) for layer in reversed(self.relaxation.layers)]
        net = copy.copy(self.net)
        net.rows = [self._rows[i] for i in range(len(self._numbers))]
        net.step_of, net.roots = self.step_of, roots
        smaller = copy.copy(self.relaxation)
        smaller.net, smaller.peak_costs = net, np.stack(self._peak_costs)
        smaller.close_costs = self._close_costs
        smaller.remembered = self.relaxation.remembered | {self.memory.sort}
        if self.memory.sort[0] == "technique":
            price = self.relaxation.technique_repeats.price.copy()
            price[self.memory.sort[1]] = 0.0
            smaller.technique_repeats = Repeats(price, self.relaxation.technique_repeats.windows)
        whole = [self._numbered(layer, net) for layer in reversed(layers) if layer is not None]
        smaller.with_layers(whole)
        return smaller

    def _begin(self) -> dict[tuple[int, int], int]:
        """Number the rows after arrivals."""
        roots = {}
        for i, block in enumerate(self.table.arrivals):
            for p, _ in enumerate(self.table.positions):
                number = self.net.root_row(block, p)
                if number in self.relaxation.layer_of:
                    state = self.memory.first(self.actions.first_arrival + i)
                    roots[id(block), p] = self._number(number, state)
        return roots

    def _number(self, number: int, state: int) -> int:
        """Return the number of a row in a state; -1 where it is no more."""
        if state == NO or number not in self.relaxation.layer_of:
            return -1
        key = number, self.memory.settled(state, number)
        if key not in self._numbers:
            self._numbers[key] = len(self._numbers)
            self._states.setdefault(number, []).append(key[1])
        return self._numbers[key]

    def _layer(self, layer: Layer) -> Layer | None:
        """Go on from all rows of a layer; return it with the new rows."""
        steps = np.unique(self.step_of[layer.own])
        rows, old, peaks = [], [], []
        for i, number in enumerate(layer.rows.tolist()):
            for state in self._states.get(number, ()):
                new = self._numbers[number, state]
                self._rows[new] = self._row(self.net.rows[number], state, steps)
                rows.append(new)
                old.append(i)
                peaks.append(self._priced(int(layer.peaks[i]), self.net.rows[number], state))
        self._left -= len(rows) * len(layer.own)
        if self._left < 0:
            raise TooLarge
        if not rows:
            return None
        closing = np.isin(old, layer.closing)
        return replace(
            layer,
            rows=np.array(rows, dtype=np.int64),
            peaks=np.array(peaks, dtype=np.int64),
            is_before=layer.is_before[old],
            spreads=layer.spreads[old],
            open_costs=layer.open_costs[old],
            turns=tuple((p, to[old], cost[old]) for p, to, cost in layer.turns),
            closing=np.nonzero(closing)[0],
        )

    def _row(self, row: Row, state: int, steps: Ints) -> Row:
        """Return a row in a state; -1 stands for none as yet."""
        a, memory = self.actions, self.memory
        then = memory.after(state, row, self._sample[steps])
        found = np.full((2, len(self._sample)), -1, dtype=np.int64)
        for which, landing in enumerate((row.steps, row.plain_steps)):
            found[which, steps] = self._numbered_all(landing[self._old_step[steps]], then)

        def moved(to: int, action: int) -> int:
            return self._number(to, int(memory.after(state, row, np.array([action]))[0]))

        none = self.net.count
        opens = a.first_open + row.node.opens
        turns = []
        for position, to, cost in row.turns:
            new = moved(to, a.first_turn + a.turn_positions.index(position))
            if new >= 0:
                turns.append((position, new, cost))
        return replace(
            row,
            steps=found[0],
            plain_steps=found[1],
            home=-1 if row.home == none else moved(row.home, a.home),
            open=-1 if row.open == none else moved(row.open, opens),
            turns=tuple(turns),
            past=self._closed(row, state),
        )

    def _numbered_all(self, landing: Ints, states: Ints) -> Ints:
        """Return the numbers of many rows in many states."""
        most = int(states.max(initial=0)) + 2
        codes, which = np.unique(landing * most + states + 1, return_inverse=True)
        rows, then = codes // most, codes % most - 1
        pairs = zip(rows.tolist(), then.tolist(), strict=True)
        return np.array([self._number(r, s) for r, s in pairs], dtype=np.int64)[which]

    def _priced(self, peak: int, row: Row, state: int) -> int:
        """Return the number of what blocks cost more at a row in a state."""
        key = peak, state, row.bar < self.table.grounds.first_stretch
        if key not in self._costs:
            costs = self.memory.costs(state, row)
            if costs is None and peak == 0:
                self._costs[key] = 0
            else:
                whole = self.relaxation.peak_costs[peak] + (0.0 if costs is None else costs)
                self._costs[key] = len(self._peak_costs)
                self._peak_costs.append(whole)
        return self._costs[key]

    def _closed(self, row: Row, state: int) -> int:
        """Return the number of what closing passages cost more after a row in a state."""
        key = row.past, state
        if key not in self._past:
            before = self.relaxation.close_costs[row.past]
            costs = self.memory.close_costs(state)
            self._past[key] = len(self._close_costs)
            self._close_costs.append(before if costs is None else before + costs)
        return self._past[key]

    def _numbered(self, layer: Layer, net: Net) -> Layer:
        """Return a layer with the numbers of rows that moves lead to."""
        none, numbers = net.count, layer.rows.tolist()
        rows = [net.rows[number] for number in numbers]
        for row in rows:
            row.steps = np.where(row.steps < 0, none, row.steps)
            row.plain_steps = np.where(row.plain_steps < 0, none, row.plain_steps)
            row.home = none if row.home < 0 else row.home
            row.open = none if row.open < 0 else row.open
        steps = np.stack([row.steps for row in rows])[:, self.step_of[layer.own]]
        places = steps * len(self.table.end_blocks) + self.table.end_of[layer.own]
        turned = [{p: to for p, to, _ in row.turns} for row in rows]
        return replace(
            layer,
            places=np.ascontiguousarray(places.astype(np.int32)),
            homes=np.array([row.home for row in rows], dtype=np.int64),
            opens=np.array([row.open for row in rows], dtype=np.int64),
            turns=tuple(
                (p, np.array([t.get(p, none) for t in turned], dtype=np.int64), cost)
                for p, _, cost in layer.turns
            ),
        )
