"""How good any plan can be: the cheapest way through the network, with what it forgets priced.

The network forgets how often a technique or a region came before, and how the time was shared
between the main regions. Each of these is priced instead (Lagrange multipliers): a use of a
technique costs a little wherever it stands, and a bound on what all uses together would really
have cost is taken off again. Whatever the prices are, no plan can be cheaper than the cheapest
way plus these terms. `ascent` looks for the prices that make it dearest.
"""

from __future__ import annotations

import copy
import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rondel.planner import taste
from rondel.planner.blocks import Kind
from rondel.planner.constraints import vary
from rondel.planner.counts import counts_of, warmth_of
from rondel.planner.layers import Layer, layers_of
from rondel.planner.links import Linking, Links
from rondel.planner.multipliers import Credits, Multipliers, Repeats, Uses
from rondel.planner.net import DIRECT, HOME, OPEN, Net, Row
from rondel.planner.state import AFTER, BEFORE
from rondel.planner.table import NEVER, Floats, Ints, Table, _of

#: What a bar that is short on a main region is priced at to begin with, as a share of what it may
#: cost: more in long forms, where getting to a place and back is worth it (decision 3).
_SHORTAGE, _SHORTAGE_LONG, _LONG_MINUTES = 0.15, 0.4, 20

_ALL = slice(None)


class Relaxation:
    """The priced network of one search."""

    def __init__(self, net: Net) -> None:
        self.net, self.table = net, net.table
        table, material = self.table, self.table.material
        g = table.grounds
        windows = max(1, math.ceil(g.bars / max(1, g.frame.at_most(vary.WINDOW_SECONDS))))
        mains = np.zeros(len(material.region_ids), dtype=bool)
        mains[list(material.mains)] = True
        place = np.where(mains, table.prices.main_place, table.prices.place)
        again = np.full(len(material.techniques), table.prices.again)
        self.technique_repeats = Repeats(again, windows)
        self.region_repeats = Repeats(place, windows)
        worked = table.prices.min_share * g.worked
        self.most_shortage = table.prices.focus / worked if material.mains else 0.0
        self.own_uses = counts_of(table.own, table)
        self.close_uses = counts_of(table.closes, table)
        self.arrival_uses = counts_of(table.arrivals, table)
        self.remembered: frozenset[tuple[str, int]] = frozenset()  # by nodes (see `memories`)
        self.close_costs: list[Floats] = [np.zeros(len(table.closes))]  # for what they remember
        self._linkings: dict[bool, Linking] = {}
        self._by_position()
        self._peak_costs()
        numbers = self._peak_rows()
        self.with_layers(layers_of(net, self.own_in, numbers))

    def with_layers(self, layers: list[Layer], *, are_alike: bool = False) -> None:
        """Take `layers`, the last bars first, for the whole network; with `are_alike`, most of them
        are of the network as it was, and so their links are kept."""
        self.layers = layers
        if not are_alike:
            self._links: dict[tuple[bool, bytes, bytes], Links] = {}
        self.layer_of = {
            number: (layer, i) for layer in layers for i, number in enumerate(layer.rows.tolist())
        }

    @property
    def size(self) -> int:
        """The rows that are left."""
        return len(self.layer_of)

    def links(self, layer: Layer) -> Links:
        """Return the links of the layer's endings and beginnings (one of each at least), without
        what it costs to come from a return, open bars or a turning."""
        is_direct = layer.mode == DIRECT
        key = is_direct, layer.ends.tobytes(), layer.begins.tobytes()
        if key not in self._links:
            self._links[key] = self._linking(is_direct).part(layer.ends, layer.begins)
        return self._links[key]

    def _linking(self, is_direct: bool) -> Linking:
        """Return all links, after own blocks or after something else; set up once."""
        if is_direct not in self._linkings:
            self._linkings[is_direct] = Linking(
                self.table.direct if is_direct else self.table.history
            )
        return self._linkings[is_direct]

    def for_table(self, table: Table) -> Relaxation:
        """Return the same network with another home."""
        relaxation = copy.copy(self)
        relaxation.table = table
        return relaxation

    def later(self, bar: int) -> Relaxation:
        """Return the part of the network from `bar` on, sooner solved."""
        part = copy.copy(self)
        part.layers = [layer for layer in self.layers if layer.bar >= bar]
        return part

    def home_warmth(self, table: Table) -> Floats:
        """Return the warmth (0 or less) that one return of the table's home gives."""
        return np.asarray(warmth_of([table.home], table)[0], dtype=np.float64)

    def _by_position(self) -> None:
        """Take the blocks of each position apart."""
        table = self.table
        self.own_in = [np.nonzero(table.lies(table.own, p))[0] for p in table.positions]
        self.close_in = [table.lies(table.closes, p) for p in table.positions]

    def _peak_costs(self) -> None:
        """Work out what each block costs as the first of a peak row."""
        own, costs = self.table.own, self.table.peak_costs
        self._own_bars = _of(own, "bars")
        self._is_peak = _of(own, "kind") == Kind.PEAK
        first = costs[np.minimum(self._own_bars, len(costs) - 1)]
        elsewhere = taste.PEAK_ELSEWHERE * (_of(own, "main") < 0)
        self.peak_first: Floats = np.where(self._is_peak, first + elsewhere, 0.0)

    def _peak_rows(self) -> list[int]:
        """Work out the costs of blocks as part of the peak, and give each row the number of its
        own; rows alike share theirs, and 0 is for no peak."""
        own, costs = self.table.own, self.table.peak_costs
        found, numbers = [np.zeros(len(own))], []
        known: dict[tuple[int, int], int] = {}
        for row in self.net.rows:
            phase, before = row.node.phase, row.node.row
            if phase == AFTER:
                numbers.append(0)
                continue
            if (phase, before) not in known:
                known[phase, before] = len(found)
                after = np.minimum(before + self._own_bars, len(costs) - 1)
                further = np.where(self._is_peak, costs[after] - costs[before], 0.0)
                found.append(self.peak_first if phase == BEFORE else further)
            numbers.append(known[phase, before])
        self.peak_costs = np.stack(found)
        return numbers

    # ---- prices --------------------------------------------------------------------------------

    def usual(self) -> Multipliers:
        """Return the prices to begin with."""
        material = self.table.material
        return Multipliers(
            techniques=np.zeros(len(material.techniques)),
            regions=np.zeros(len(material.region_ids)),
            shortages=np.full(1 + len(material.mains), self._usual_shortage()),
            warmth=np.zeros(max(1, len(self.table.grounds.slots))),
        )

    def _usual_shortage(self) -> float:
        minutes = self.table.grounds.frame.brief.minutes
        share = _SHORTAGE if minutes <= _LONG_MINUTES else _SHORTAGE_LONG
        return share * self.most_shortage

    def credits(self, at: Multipliers) -> Credits:
        return Credits(
            techniques=self.technique_repeats.credit(at.techniques),
            regions=self.region_repeats.credit(at.regions),
        )

    def priced(self, uses: Uses, at: Multipliers) -> Floats:
        """Return what is added to each block's cost."""
        return (
            uses.techniques @ at.techniques
            + uses.regions @ at.regions
            + uses.shortages @ at.shortages
        )

    # ---- the cheapest way ----------------------------------------------------------------------

    def solve(self, at: Multipliers) -> Solved:
        """Return the least cost from every row to the end, and from the beginning.

        Shortages are priced at what they cost here at most: above that, nothing is bounded. Prices
        may come from a network with another home, where that is more.
        """
        if (at.shortages > self.most_shortage).any():
            at = replace(at, shortages=np.minimum(at.shortages, self.most_shortage))
        return Solved(self, at)


class Solved:
    """Cheapest ways under one set of multipliers.

    `ahead[row, ending]` is the least cost from there to the end (priced).
    """

    def __init__(self, relaxation: Relaxation, at: Multipliers) -> None:
        self.relaxation, self.at = relaxation, at
        self.net, self.table = relaxation.net, relaxation.table
        self.own_priced = relaxation.priced(relaxation.own_uses, at)
        self.own_warmth = relaxation.own_uses.warmth @ at.warmth
        self.close_priced = relaxation.priced(relaxation.close_uses, at)
        self.arrival_priced = relaxation.priced(relaxation.arrival_uses, at)
        self.credits = relaxation.credits(at)
        self._is_warm = bool(self.at.warmth.any())
        self.home_warmth = float(relaxation.home_warmth(self.table) @ at.warmth)
        self._closing: dict[tuple[int, ...], Floats] = {}
        count = len(self.table.end_blocks)
        self.ahead = np.full((self.net.count + 1, count), NEVER)
        for layer in relaxation.layers:
            self._solve(layer)

    @property
    def sunk(self) -> float:
        """The credits of a plan that has not begun."""
        return float(self.credits.techniques[:, 0].sum() + self.credits.regions[:, 0].sum())

    def home_cost(self, row: Row) -> float:
        """Return what a return costs at `row`, less the price of the warmth that it gives."""
        cost = row.spread + float(self.table.home_cost[row.tick])
        return cost + (self.home_warmth if row.node.phase == BEFORE else 0.0)

    def steps(self, rows: Ints) -> Floats:
        """Return, for each of `rows` (all of one bar, position and mode) and each own block of
        their position, the least cost to the end by way of the block."""
        own_in = self.relaxation.own_in[self.net.rows[int(rows[0])].node.position]
        found = np.full((len(rows), len(own_in)), NEVER)
        known = [self.relaxation.layer_of.get(number) for number in rows.tolist()]
        there = [(i, place[1]) for i, place in enumerate(known) if place is not None]
        if there:
            layer = next(place[0] for place in known if place is not None)  # rows alike share one
            mine, which = np.array(there, dtype=np.int64).T
            columns = np.searchsorted(own_in, layer.own)
            found[np.ix_(mine, columns)] = self.ways(layer, which)
        return found

    def added(self, layer: Layer, which: slice | Ints = _ALL) -> Floats:
        """Return what each block of the layer costs after each of its rows (or of some)."""
        own, relax = layer.own, self.relaxation
        cost = self.table.own_cost[own, layer.tick] + self.own_priced[own]
        peaks, is_before = layer.peaks[which], layer.is_before[which]
        costs = np.broadcast_to(cost, (len(peaks), len(own)))
        if peaks.any():
            costs = costs + relax.peak_costs[peaks[:, None], own]
        if self._is_warm and is_before.any():
            costs = costs + np.where(is_before[:, None], self.own_warmth[own], 0.0)
        return costs

    def ways(self, layer: Layer, which: slice | Ints = _ALL) -> Floats:
        """Return the same with the least that lies ahead of each block's end."""
        cost = np.take(self.ahead.ravel(), layer.places[which])
        cost += self.added(layer, which)
        return np.asarray(cost, dtype=np.float64)

    def entering(self, mode: int, position: int) -> Floats:
        """Return the cost of each beginning after a return, open bars or a turning."""
        if mode == HOME:
            return self.table.after_home
        return self.table.after_open if mode == OPEN else self.table.after_turn[position]

    def going_home(self, layer: Layer) -> Floats:
        """Return what a return costs after each row and ending of the layer."""
        table = self.table
        cost = layer.spreads + float(table.home_cost[layer.tick])
        cost = cost + np.where(layer.is_before, self.home_warmth, 0.0)
        if layer.mode == DIRECT:
            return np.asarray(cost[:, None] + table.to_home[layer.ends])
        return np.repeat(cost[:, None] + table.home_after_open, len(layer.ends), axis=1)

    def _solve(self, layer: Layer) -> None:
        """Solve the rows of a layer."""
        ends = layer.ends
        found = np.full((len(layer.rows), len(ends)), NEVER)
        if len(layer.own) and len(ends):
            least = np.minimum.reduceat(self.ways(layer), layer.starts, axis=1)
            if layer.mode != DIRECT:
                least += self.entering(layer.mode, layer.position)[layer.begins]
            found = self.relaxation.links(layer).before(least)
        if (layer.homes != self.net.count).any():
            ahead = self.ahead[np.ix_(layer.homes, ends)]
            np.minimum(found, self.going_home(layer) + ahead, out=found)
        for to, cost in ((layer.opens, layer.open_costs), *(t[1:] for t in layer.turns)):
            if (to != self.net.count).any():
                np.minimum(found, cost[:, None] + self.ahead[np.ix_(to, ends)], out=found)
        for i in layer.closing.tolist():
            closing = self.closing(self.net.rows[layer.rows[i]])[ends]
            np.minimum(found[i], closing, out=found[i])
        self.ahead[np.ix_(layer.rows, ends)] = found

    def closing(self, row: Row) -> Floats:
        """Return the least cost of the close after `row`, which may close, by ending."""
        left = self.table.grounds.bars - row.bar
        return self._close(left, row) + self.net.left_undone(row.node)

    def closing_links(self, mode: int, position: int) -> Floats:
        """Return the cost of each closing passage after each ending; broadcasts to (E, closes)."""
        table = self.table
        entering: Floats = table.close_after_turn.get(position, table.close_after_open)
        if mode == DIRECT:
            entering = table.close_after_own
        elif mode == HOME:
            entering = table.close_after_home
        elif mode == OPEN:
            entering = table.close_after_open
        return np.asarray(entering + table.close_history)

    def _able_closes(self, left: int, row: Row) -> NDArray[np.bool_]:
        """Return which closing passages of `left` bars may follow `row`."""
        missing = self.net.missing(row.node)
        able = (self.table.close_bars == left) & self.relaxation.close_in[row.node.position]
        return np.asarray(able & (self.table.close_keeps == missing) if missing >= 0 else able)

    def _close(self, left: int, row: Row) -> Floats:
        """Return the least cost of a closing passage of `left` bars, by ending."""
        mode, position = row.node.mode, row.node.position
        key = left, mode, position, self.net.missing(row.node), row.past
        if key not in self._closing:
            able = self._able_closes(left, row)
            cost = self.closing_links(mode, position) + self.table.close_cost + self.close_priced
            cost = cost + self.relaxation.close_costs[row.past]
            least = cost[:, able].min(axis=1) if able.any() else np.full(len(cost), NEVER)
            self._closing[key] = least
        return self._closing[key]

    def roots(self) -> list[tuple[float, int, int, int]]:
        """Return (least cost of a whole plan, arrival, position, row) of every beginning."""
        table, found = self.table, []
        for p, position in enumerate(table.positions):
            start = taste.position_cost(table.grounds.frame.brief, position)
            for i, block in enumerate(table.arrivals):
                row = self.net.root_row(block, p)
                if row == self.net.count or not table.stock.may_lie(block, position):
                    continue
                cost = start + float(table.arrival_cost[i] + self.arrival_priced[i])
                cost += float(self.relaxation.arrival_uses.warmth[i] @ self.at.warmth)
                ahead = float(self.ahead[row, table.arrival_end[i]])
                found.append((cost + ahead + self.sunk, i, p, row))
        return found

    def value(self) -> float:
        """Return the bound: no plan of this search costs less."""
        return min((root[0] for root in self.roots()), default=NEVER)

    # ---- the way itself --------------------------------------------------------------------------

    def uses(self) -> Uses:
        """Return what the cheapest way uses; it must exist."""
        relax = self.relaxation
        _, arrival, _, row = min(self.roots())
        began = relax.arrival_uses
        here = (began.techniques, began.regions, began.shortages, began.warmth)
        return self.uses_from(
            row, int(self.table.arrival_end[arrival]), Uses(*(part[arrival] for part in here))
        )

    def uses_from(self, row: int, ending: int, before: Uses) -> Uses:
        """Return what the cheapest way on from a row and ending uses, with what was used before."""
        relax = self.relaxation
        parts = (before.techniques, before.regions, before.shortages, before.warmth)
        total = [np.array(part, dtype=np.float64) for part in parts]
        while True:
            here = self.net.rows[row]
            is_before = here.node.phase == BEFORE
            uses, index, row, ending = self.next(row, ending)
            if uses is None and is_before and row == here.home:
                total[3] += relax.home_warmth(self.table)
            if uses is not None:
                more = (uses.techniques, uses.regions, uses.shortages)
                for whole, part in zip(total[:3], more, strict=True):
                    whole += part[index]
                total[3] += uses.warmth[index] if is_before else 0.0
            if row < 0:
                return Uses(*total)

    def next(self, number: int, ending: int) -> tuple[Uses | None, int, int, int]:
        """Return (table of uses, block, next row or -1, ending) of the cheapest move."""
        row, table, relax = self.net.rows[number], self.table, self.relaxation
        node, wanted = row.node, self.ahead[number, ending] + 1e-9
        if row.home != self.net.count:
            entering = table.to_home[ending] if node.mode == DIRECT else table.home_after_open
            if entering + self.home_cost(row) + self.ahead[row.home, ending] <= wanted:
                return None, 0, row.home, ending
        if row.open != self.net.count and row.open_cost + self.ahead[row.open, ending] <= wanted:
            return None, 0, row.open, ending
        for _, turned, cost in row.turns:
            if cost + self.ahead[turned, ending] <= wanted:
                return None, 0, turned, ending
        if row.may_close and self.closing(row)[ending] <= wanted:
            return relax.close_uses, self._closing_block(row, ending), -1, ending
        own = relax.own_in[node.position]
        if node.mode == DIRECT:
            links = table.direct[ending]
        else:
            links = table.history[ending] + self.entering(node.mode, node.position)
        best = int(np.argmin(links[table.begin_of[own]] + self.steps(np.array([number]))[0]))
        block = int(own[best])
        following = int(row.steps[self.net.step_of[block]])
        return relax.own_uses, block, following, int(table.end_of[block])

    def _closing_block(self, row: Row, ending: int) -> int:
        table, node = self.table, row.node
        able = self._able_closes(table.grounds.bars - row.bar, row)
        cost = self.closing_links(node.mode, node.position)[ending] + table.close_cost
        cost = cost + self.relaxation.close_costs[row.past]
        return int(np.argmin(np.where(able, cost + self.close_priced, NEVER)))
