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
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.planner import taste
from rondel.planner.blocks import Block, Kind
from rondel.planner.constraints import vary
from rondel.planner.multipliers import Credits, Multipliers, Repeats, Uses
from rondel.planner.net import DIRECT, HOME, OPEN, Net, Row
from rondel.planner.state import AFTER, BEFORE
from rondel.planner.table import NEVER, Floats, Ints, Table, _of

_WORKED = (Kind.WORK, Kind.PEAK)


_AT_ONCE = 16  # rows solved together; more would not fit into the cache


@dataclass(frozen=True)
class Group:
    """Rows at one bar and position after the same kind of block. `places` says for each row and
    own block where, in the flat table of what lies ahead, the block leads; `peaks` is the number of
    the costs (`Relaxation.peak_costs`) of blocks as part of the peak, 0 for none."""

    tick: int
    position: int
    mode: int
    rows: Ints
    places: NDArray[np.int32]
    peaks: Ints
    is_before: NDArray[np.bool_]  # the peak is still to come


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
        self._features()
        self._by_position()
        self._peak_costs()
        self.peak_costs = [[np.zeros(len(own))] for own in self.own_in]
        self._peak_numbers: dict[tuple[int, int, int], int] = {}
        self.groups = self._grouped()
        self.group_of = {
            number: (group, i)
            for group in self.groups
            for i, number in enumerate(group.rows.tolist())
        }

    def for_table(self, table: Table) -> Relaxation:
        """Return the same network with another home."""
        relaxation = copy.copy(self)
        relaxation.table = table
        return relaxation

    def _features(self) -> None:
        """Count what every block uses. Shapes (blocks, things)."""
        table = self.table
        self.own_uses = self._counts(table.own)
        self.close_uses = self._counts(table.closes)
        self.arrival_uses = self._counts(table.arrivals)

    def _counts(self, blocks: list[Block]) -> Uses:
        material = self.table.material
        share = self.table.prices.min_share
        techniques = np.zeros((len(blocks), len(material.techniques)))
        regions = np.zeros((len(blocks), len(material.region_ids)))
        shortages = np.zeros((len(blocks), 1 + len(material.mains)))
        for i, block in enumerate(blocks):
            techniques[i, list(block.numbers)] = 1.0
            regions[i, block.entry_region] = 1.0
            if block.kind in _WORKED and material.mains:
                shortages[i, 0] = share * block.bars
                shortages[i, 1:] = share * block.bars / len(material.mains)
                if block.main >= 0:
                    shortages[i, 0] -= block.bars
                    shortages[i, 1 + block.main] -= block.bars
        return Uses(techniques, regions, shortages, self._warmth(blocks))

    def _warmth(self, blocks: list[Block]) -> Floats:
        """Return how much of the warming that deep work needs each block gives or, at the peak,
        asks for (1 in all). Shape (blocks, regions that may be worked deep)."""
        g = self.table.grounds
        warmth = np.zeros((len(blocks), max(1, len(g.slots))))
        for i, block in enumerate(blocks):
            for region, bars in block.warmed:
                if region in g.slots and block.kind is not Kind.PEAK:
                    warmth[i, g.slots[region]] -= min(1.0, bars / g.warm_need)
            if block.kind is Kind.PEAK and block.deep_region >= 0:
                warmth[i, g.slots[block.deep_region]] = 1.0
        return warmth

    def home_warmth(self, table: Table) -> Floats:
        """Return the warmth (0 or less) that one return of the table's home gives."""
        return np.asarray(self._warmth([table.home])[0], dtype=np.float64)

    def _by_position(self) -> None:
        """Take the blocks and links of each position apart."""
        table = self.table
        self.own_in: list[Ints] = []
        self.starts: list[Ints] = []
        self.begins: list[Ints] = []
        self.ends: list[Ints] = []
        for position in table.positions:
            own = np.nonzero(table.lies(table.own, position))[0]
            begins, starts = np.unique(table.begin_of[own], return_index=True)
            self.own_in.append(own)
            self.starts.append(starts)
            self.begins.append(begins)
            arrivals = np.nonzero(table.lies(table.arrivals, position))[0]
            met = np.concatenate([table.end_of[own], table.arrival_end[arrivals]])
            self.ends.append(np.unique(met))
        self.direct = [
            np.ascontiguousarray(table.direct[np.ix_(e, b)])
            for e, b in zip(self.ends, self.begins, strict=True)
        ]
        self.history = [np.ascontiguousarray(table.history[:, b]) for b in self.begins]
        self.close_in = [table.lies(table.closes, p) for p in table.positions]

    def _peak_costs(self) -> None:
        """Work out what each block costs as the first of a peak row."""
        own, costs = self.table.own, self.table.peak_costs
        self._own_bars = _of(own, "bars")
        self._is_peak = _of(own, "kind") == Kind.PEAK
        first = costs[np.minimum(self._own_bars, len(costs) - 1)]
        elsewhere = taste.PEAK_ELSEWHERE * (_of(own, "main") < 0)
        self.peak_first: Floats = np.where(self._is_peak, first + elsewhere, 0.0)

    def _peak_number(self, row: Row, position: int) -> int:
        """Return the number of the peak costs at `row`; rows alike share theirs."""
        if row.node.phase == AFTER:
            return 0
        key = position, row.node.phase, row.node.row
        if key not in self._peak_numbers:
            own, costs = self.own_in[position], self.peak_costs[position]
            self._peak_numbers[key] = len(costs)
            costs.append(self._peak_cost(row, own))
        return self._peak_numbers[key]

    def _peak_cost(self, row: Row, own: Ints) -> Floats:
        """Return what blocks cost in the peak row as far as it goes at `row`."""
        if row.node.phase == BEFORE:
            return self.peak_first[own]
        costs, before = self.table.peak_costs, row.node.row
        after = np.minimum(before + self._own_bars[own], len(costs) - 1)
        return np.where(self._is_peak[own], costs[after] - costs[before], 0.0)

    def _grouped(self) -> list[Group]:
        """Gather rows that can be solved at one go, the last bars first."""
        found: dict[tuple[int, int, int], list[int]] = {}
        for number, row in enumerate(self.net.rows):
            key = -row.bar, row.node.position, row.node.mode
            found.setdefault(key, []).append(number)
        groups: list[Group] = []
        endings = len(self.table.end_blocks)
        for (_, position, mode), all_rows in sorted(found.items()):
            own = self.own_in[position]
            for i in range(0, len(all_rows), _AT_ONCE):
                some = all_rows[i : i + _AT_ONCE]
                rows = [self.net.rows[number] for number in some]
                landing = np.stack([row.steps[self.net.step_of[own]] for row in rows])
                places = (landing * endings + self.table.end_of[own]).astype(np.int32)
                peaks = [self._peak_number(row, position) for row in rows]
                groups.append(
                    Group(
                        tick=rows[0].tick,
                        position=position,
                        mode=mode,
                        rows=np.array(some),
                        places=places,
                        peaks=np.array(peaks),
                        is_before=np.array([row.node.phase == BEFORE for row in rows]),
                    )
                )
        return groups

    # ---- prices --------------------------------------------------------------------------------

    def usual(self) -> Multipliers:
        """Return the prices to begin with."""
        material = self.table.material
        return Multipliers(
            techniques=np.zeros(len(material.techniques)),
            regions=np.zeros(len(material.region_ids)),
            shortages=np.full(1 + len(material.mains), 0.15 * self.most_shortage),
            warmth=np.zeros(max(1, len(self.table.grounds.slots))),
        )

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
        """Return the least cost from every row to the end, and from the beginning."""
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
        self._closing: dict[tuple[int, int, int, int], Floats] = {}
        count = len(self.table.end_blocks)
        self.ahead = np.full((self.net.count + 1, count), NEVER)
        for group in relaxation.groups:
            self._solve_group(group)

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
        found: list[Floats] = []
        for number in rows.tolist():
            group, place = self.relaxation.group_of[number]
            found.append(self._step_costs(group, slice(place, place + 1))[0])
        return np.stack(found)

    def _step_costs(self, group: Group, which: slice) -> Floats:
        """Return the same for some rows of a group."""
        table, own = self.table, self.relaxation.own_in[group.position]
        cost = np.take(self.ahead.ravel(), group.places[which])
        cost += table.own_cost[own, group.tick] + self.own_priced[own]
        peaks, is_before = group.peaks[which], group.is_before[which]
        if peaks.any():
            cost += np.stack(self.relaxation.peak_costs[group.position])[peaks]
        if self._is_warm and is_before.any():
            cost += np.where(is_before[:, None], self.own_warmth[own], 0.0)
        return np.asarray(cost, dtype=np.float64)

    def _solve_group(self, group: Group) -> None:
        """Solve rows that begin at one bar, lie alike and follow the same kind of block."""
        relax, position = self.relaxation, group.position
        own = relax.own_in[position]
        found = np.full((len(group.rows), self.ahead.shape[1]), NEVER)
        if len(own):
            cost = self._step_costs(group, slice(None))
            least = np.minimum.reduceat(cost, relax.starts[position], axis=1)
            if group.mode == DIRECT:
                links = relax.direct[position]
                found[:, relax.ends[position]] = (links[None] + least[:, None]).min(axis=2)
            else:
                begins = relax.begins[position]
                least = least + self.entering(group.mode, position)[begins]
                found[:] = (relax.history[position][None] + least[:, None]).min(axis=2)
        for i, number in enumerate(group.rows):
            self._solve_others(self.net.rows[number], found[i])
        self.ahead[group.rows] = found

    def entering(self, mode: int, position: int) -> Floats:
        """Return the cost of each beginning after a return, open bars or a turning."""
        if mode == HOME:
            return self.table.after_home
        return self.table.after_open if mode == OPEN else self.table.after_turn[position]

    def _solve_others(self, row: Row, found: Floats) -> None:
        """Hold the refrain, open bars, a turning and the close against `found`."""
        table, none = self.table, self.net.count
        if row.home != none:
            entering = table.to_home if row.node.mode == DIRECT else table.home_after_open
            np.minimum(found, entering + self.home_cost(row) + self.ahead[row.home], out=found)
        if row.open != none:
            np.minimum(found, row.open_cost + self.ahead[row.open], out=found)
        for _, turned, cost in row.turns:
            np.minimum(found, cost + self.ahead[turned], out=found)
        if row.may_close:
            left = table.grounds.bars - row.bar
            undone = self.net.left_undone(row.node)
            closing = self._close(left, row)
            np.minimum(found, closing + undone, out=found)

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
        key = left, mode, position, self.net.missing(row.node)
        if key not in self._closing:
            able = self._able_closes(left, row)
            cost = self.closing_links(mode, position) + self.table.close_cost + self.close_priced
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
        total = [
            relax.arrival_uses.techniques[arrival].copy(),
            relax.arrival_uses.regions[arrival].copy(),
            relax.arrival_uses.shortages[arrival].copy(),
            relax.arrival_uses.warmth[arrival].copy(),
        ]
        ending = int(self.table.arrival_end[arrival])
        while True:
            here = self.net.rows[row]
            is_before = here.node.phase == BEFORE
            uses, index, row, ending = self._next(row, ending)
            if uses is None and is_before and row == here.home:
                total[3] += relax.home_warmth(self.table)
            if uses is not None:
                parts = (uses.techniques, uses.regions, uses.shortages)
                for whole, part in zip(total[:3], parts, strict=True):
                    whole += part[index]
                total[3] += uses.warmth[index] if is_before else 0.0
            if row < 0:
                return Uses(*total)

    def _next(self, number: int, ending: int) -> tuple[Uses | None, int, int, int]:
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
        if row.may_close:
            left = table.grounds.bars - row.bar
            if self._close(left, row)[ending] + self.net.left_undone(node) <= wanted:
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
        return int(np.argmin(np.where(able, cost + self.close_priced, NEVER)))
