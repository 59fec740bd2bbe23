"""Taking out of a network what no plan cheaper than the best one known can use.

Under any prices the cheapest way through a row, or through a block at a row, costs no more than any
plan that goes there. Where even that way costs as much as the best plan known, row or block may be
left out for good (reduced-cost fixing). The smaller network is solved sooner, and its cheapest way
tells as before how cheap a plan that betters the best may be.
"""

from __future__ import annotations

import copy

import numpy as np

from rondel.planner.bound import Relaxation, Solved
from rondel.planner.layers import Layer
from rondel.planner.net import DIRECT
from rondel.planner.table import NEVER, Bools, Floats, Ints

_EPS = 1e-7


class Fixing:
    """The cheapest ways from the beginning, by which to tell what may be left out.

    `before[row, ending]` is the least cost from the beginning to there (priced).
    """

    def __init__(self, solved: Solved, best: float) -> None:
        self.solved, self.relaxation, self.best = solved, solved.relaxation, best
        self.net, self.table = solved.net, solved.table
        self.before = np.full(solved.ahead.shape, NEVER)
        for cost, arrival, _, row in solved.roots():
            ending = self.table.arrival_end[arrival]
            ahead = solved.ahead[row, ending]
            if ahead < NEVER:
                self.before[row, ending] = min(self.before[row, ending], cost - ahead)

    def left(self) -> Relaxation:
        """Return the network without what is of no more use."""
        layers = [self._layer(layer) for layer in reversed(self.relaxation.layers)]
        smaller = copy.copy(self.relaxation)
        smaller.with_layers([layer for layer in reversed(layers) if len(layer.rows)])
        return smaller

    def _layer(self, layer: Layer) -> Layer:
        """Go on from the rows of a layer, and return what is left of it."""
        before = self.before[np.ix_(layer.rows, layer.ends)]
        rows, ends = self._used(before + self.solved.ahead[np.ix_(layer.rows, layer.ends)])
        if not rows.any():
            return layer.kept(rows, np.zeros(len(layer.own), dtype=bool), ends, self.table)
        self._go_elsewhere(layer, before)
        if not len(layer.own):
            return layer.kept(rows, np.zeros(0, dtype=bool), ends, self.table)
        costs = self._arrived(layer, before)
        ahead = np.take(self.solved.ahead.ravel(), layer.places)
        _, own = self._used(costs + ahead)
        self._go_on(layer, own, costs)
        return layer.kept(rows, own, ends, self.table)

    def _used(self, through: Floats) -> tuple[Bools, Bools]:
        """Return which rows and which columns some cheaper plan may go through."""
        able = through < self.best - _EPS
        return np.asarray(able.any(axis=1)), np.asarray(able.any(axis=0))

    def _arrived(self, layer: Layer, before: Floats) -> Floats:
        """Return the least cost from the beginning to the end of each block after each row."""
        least = self.relaxation.links(layer).after(before)
        if layer.mode != DIRECT:
            least += self.solved.entering(layer.mode, layer.position)[layer.begins]
        lengths = np.diff(np.append(layer.starts, len(layer.own)))
        return np.asarray(np.repeat(least, lengths, axis=1) + self.solved.added(layer))

    def _go_on(self, layer: Layer, own: Bools, costs: Floats) -> None:
        """Carry the costs of blocks to where they lead; a light block may be no filler, if its
        place was touched before, and then it leads elsewhere."""
        flat = self.before.reshape(-1)
        np.minimum.at(flat, layer.places[:, own], costs[:, own])
        blocks = layer.own[own]
        steps, ends = self.net.step_of[blocks], self.table.end_of[blocks]
        for row, cost in zip(layer.rows.tolist(), costs[:, own], strict=True):
            here = self.net.rows[row]
            other = np.nonzero(here.plain_steps[steps] != here.steps[steps])[0]
            if len(other):
                to = here.plain_steps[steps[other]], ends[other]
                np.minimum.at(self.before, to, cost[other])

    def _go_elsewhere(self, layer: Layer, before: Floats) -> None:
        """Carry costs over a return, open bars and turnings."""
        if (layer.homes != self.net.count).any():
            self._carry(layer, layer.homes, before + self.solved.going_home(layer))
        for to, cost in ((layer.opens, layer.open_costs), *(t[1:] for t in layer.turns)):
            if (to != self.net.count).any():
                self._carry(layer, to, before + cost[:, None])

    def _carry(self, layer: Layer, to: Ints, costs: Floats) -> None:
        able = to != self.net.count
        for row, cost in zip(to[able].tolist(), costs[able], strict=True):
            self.before[row, layer.ends] = np.minimum(self.before[row, layer.ends], cost)


def fixed(solved: Solved, best: float) -> Relaxation:
    """Return the network of `solved` without what no plan cheaper than `best` can use."""
    return Fixing(solved, best).left()
