"""The blocks of one search as arrays: what may follow what, and what each costs at each bar."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from rondel.hands.neighbours import FIRM, kinship, usual_strain
from rondel.model.words import Position
from rondel.planner import taste
from rondel.planner.blocks import Block, Kind
from rondel.planner.bridging import off_bridge
from rondel.planner.constraints import curve
from rondel.planner.curves import shape_of
from rondel.planner.grounds import Grounds
from rondel.planner.refrains import Refrain
from rondel.planner.stock import Stock, close_blocks
from rondel.planner.track_costs import track_costs_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NEVER = np.inf


class Extra(Protocol):
    """A further cost of blocks at bars, for staying near a plan or away from one."""

    def table(self, blocks: list[Block], bars: Ints) -> Floats:
        """Return the cost of every block (a row each) begun at each of `bars`."""
        ...


@dataclass(frozen=True)
class Ends:
    """What of a block matters to its neighbour, one number a kind of ending or beginning.

    `regions` are -1 where there is none; `counts` is the counted pressure on that end; `free` lets
    the hands come from anywhere, or go; `techniques` is the first technique, `uses` one row of
    techniques each.
    """

    regions: Ints
    counts: Ints
    free: Bools
    techniques: Ints
    families: Ints
    uses: Floats

    def __len__(self) -> int:
        return len(self.regions)


class Table:
    """Arrays over blocks. `own` are the blocks between arrival and close, sorted by how they begin.

    Shapes: E kinds of endings (of own blocks and arrivals), C kinds of beginnings (of own blocks),
    B own blocks, T techniques, R regions, K bars at which a block may begin.
    """

    after_home: Floats  # C; these six are given by `for_home`
    close_after_home: Floats
    to_home: Floats  # E
    home_after_open: float
    home_cost: Floats  # K
    unprepared: tuple[Bools, Bools]  # B: small areas that nothing can prepare, early and late

    def __init__(self, stock: Stock, grounds: Grounds, extra: Extra | None) -> None:
        self.stock, self.grounds, self.extra = stock, grounds, extra
        self.material = grounds.material
        self.prices = self.material.prices
        self.track = track_costs_of(grounds.frame, self.material.craft)
        kept = {k: [b for b in stock.kept if b.kind is k] for k in Kind}
        self.arrivals = [*stock.arrivals, *kept[Kind.ARRIVE]]
        self.home = stock.refrain.block
        self.positions = stock.refrain.positions
        own = [*stock.work, *stock.peaks, *kept[Kind.WORK], *kept[Kind.PEAK]]
        self._order_own([b for b in own if self._lies_somewhere(b)])
        self.opens = list(stock.open_blocks)
        self.turns = {i: stock.turns[p] for i, p in enumerate(self.positions) if p in stock.turns}
        self.bars = self._grid()
        self.tick_of = {int(bar): i for i, bar in enumerate(self.bars)}
        low, high = grounds.closing
        lefts = [left for left in range(low, high + 1) if grounds.bars - left in self.tick_of]
        self.closes = [b for left in lefts for b in close_blocks(stock, left)]
        self.closes += [b for b in kept[Kind.CLOSE] if b.bars in lefts]
        self.close_bars = _of(self.closes, "bars")
        self.close_keeps = _of(self.closes, "keep")
        self._link()

    def _lies_somewhere(self, block: Block) -> bool:
        return any(self.stock.may_lie(block, p) for p in self.positions)

    def lies(self, blocks: list[Block], position: Position) -> Bools:
        """Return which of `blocks` can be done in `position`."""
        return np.array([self.stock.may_lie(b, position) for b in blocks], dtype=bool)

    # ---- beginnings and endings ----------------------------------------------------------------

    def _order_own(self, own: list[Block]) -> None:
        """Number the ways in which blocks begin and end, and sort them by how they begin."""
        begins: dict[tuple[Any, ...], int] = {}
        for block in own:
            begins.setdefault(_begin(block), len(begins))
        own.sort(key=lambda b: begins[_begin(b)])
        self.own = own
        self.begin_of = np.array([begins[_begin(b)] for b in own], dtype=np.int64)
        self.begin_blocks = _first_of_each(self.begin_of, own)
        ends: dict[tuple[Any, ...], int] = {}
        for block in (*own, *self.arrivals):
            ends.setdefault(_end(block), len(ends))
        self.end_of = np.array([ends[_end(b)] for b in own], dtype=np.int64)
        self.arrival_end = np.array([ends[_end(b)] for b in self.arrivals], dtype=np.int64)
        every = np.concatenate([self.end_of, self.arrival_end])
        self.end_blocks = _first_of_each(every, [*own, *self.arrivals])

    def _link(self) -> None:
        """Work out what may follow what, and what it costs."""
        number = _Numbers()
        count = len(self.material.techniques)
        exits = _ends(self.end_blocks, count, number, leaving=True)
        begins = _ends(self.begin_blocks, count, number, leaving=False)
        closes = _ends(self.closes, count, number, leaving=False)
        self._exits, self._begins, self._closes = exits, begins, closes
        self.after_own = self._reach(exits, begins)  # E x C
        self.history = self._history(exits, begins)
        self.direct = self.after_own + self.history
        self.close_after_own = self._reach(exits, closes)
        self.close_history = self._history(exits, closes)
        free = np.zeros(len(begins)), np.zeros(len(closes))
        self.after_open = np.where(begins.counts <= 3, free[0], NEVER)
        self.close_after_open = np.where(closes.counts <= 3, free[1], NEVER)
        self.after_turn, self.close_after_turn = {}, {}
        for i, block in self.turns.items():
            turn = _ends([block], count, number, leaving=True)
            self.after_turn[i] = self._reach(turn, begins)[0]
            self.close_after_turn[i] = self._reach(turn, closes)[0]

    def for_home(self, refrain: Refrain, *, is_wide: bool) -> Table:
        """Return the table with another home of the same length and positions.

        Its techniques are no work elsewhere, but where the search `is_wide`.
        """
        own_cost = self._worked_out()
        table = copy.copy(self)
        table.home = refrain.block
        count = len(self.material.techniques)
        home = _ends([table.home], count, _Numbers(), leaving=True)
        home_in = _ends([table.home], count, _Numbers(), leaving=False)
        table.after_home = self._reach(home, self._begins)[0]
        table.close_after_home = self._reach(home, self._closes)[0]
        table.to_home = self._reach(self._exits, home_in)[:, 0]  # E
        table.home_after_open = 0.0 if home_in.counts[0] <= 3 else NEVER
        table.home_cost = self._places([table.home], self.bars)[0]
        late = table._never_prepared(is_late=True)
        early = table._never_prepared(is_late=False)
        table.unprepared = early, late
        at = np.where(
            self.bars[None, :] < self.grounds.first_stretch, early[:, None], late[:, None]
        )
        table.own_cost = own_cost + self.prices.small_areas * at
        if not is_wide:
            same = [
                b.kind is Kind.WORK and b.keep < 0 and bool(b.used & table.home.used)
                for b in self.own
            ]
            table.own_cost[np.array(same, dtype=bool)] = NEVER
        return table

    def _reach(self, exits: Ends, begins: Ends) -> Floats:
        """Return the cost of going from each ending to each beginning; never where rules forbid."""
        reach = np.array(self.material.reach)
        stays = np.array(self.material.stays)
        a, b = exits.regions[:, None], begins.regions[None, :]
        somewhere = (a >= 0) & (b >= 0)
        able = exits.free[:, None] | begins.free[None, :] | (somewhere & reach[a, b])
        able &= begins.counts[None, :] <= exits.counts[:, None] + 1
        leaves = somewhere & ~stays[a, b]
        return np.where(able, np.where(leaves, self.prices.contact_kept, 0.0), NEVER)

    @cached_property
    def _loads(self) -> Floats:
        """Return how much each technique goes on loading what one before it has loaded."""
        techniques = self.material.techniques
        kin = {
            (a, b): kinship(a, b)
            for a in {t.contact for t in techniques}
            for b in {t.contact for t in techniques}
        }
        shared = np.array([[kin[a.contact, b.contact] for b in techniques] for a in techniques])
        strain = np.array([usual_strain(t) for t in techniques])
        lighter = np.minimum(strain[:, None], strain[None, :])
        return np.asarray(shared * np.minimum(1.0, lighter / FIRM))

    def _history(self, exits: Ends, begins: Ends) -> Floats:
        """Return what each beginning costs for being like the last block of its own."""
        total = self.prices.at_once * (exits.uses @ begins.uses.T > 0)
        loads = self._loads[exits.techniques[:, None], begins.techniques[None, :]]
        total += self.prices.same_contact * loads
        total += self.prices.same_family * (exits.families[:, None] == begins.families[None, :])
        return np.asarray(total, dtype=np.float64)

    def _worked_out(self) -> Floats:
        """Work out the costs that are the same for all homes, and return those of own blocks."""
        for cost in (self.arrival_cost, self.open_cost, self.close_cost, self.peak_costs):
            cost.flags.writeable = False
        _ = self.turn_cost
        return self.own_cost

    # ---- places ----------------------------------------------------------------------------------

    def _grid(self) -> Ints:
        """Return the bars at which blocks may begin: all that lengths add up to."""
        total = self.grounds.bars
        reached = np.zeros(total + 1, dtype=bool)
        for block in self.arrivals:
            if block.bars <= total:
                reached[block.bars] = True
        between = (*self.own, self.home, *self.opens, *self.turns.values())
        lengths = sorted({b.bars for b in between})
        for bar in range(total):
            if reached[bar]:
                for length in lengths:
                    if bar + length < total:
                        reached[bar + length] = True
        return np.nonzero(reached)[0].astype(np.int64)

    @cached_property
    def own_cost(self) -> Floats:
        """What every own block costs at every bar (B x K). Like the costs below it is worked out
        when it is asked for: a network that leads nowhere asks for none."""
        g, bars = self.grounds, self.bars
        own_cost = self._places(self.own, bars)
        starts, ends = bars[None, :], bars[None, :] + _of(self.own, "bars")[:, None]
        opens, closes = _flags(self.own, "opens"), _flags(self.own, "closes")
        never = (starts < g.opening) & ~opens[:, None]
        never |= (ends > g.close) & ~closes[:, None]
        stretch = _flags(self.own, "stretch")[:, None]
        never |= stretch & ((starts < g.first_stretch) | (ends > g.close))
        is_peak = (_of(self.own, "kind") == Kind.PEAK)[:, None]
        never |= is_peak & (starts < g.opening)
        if g.summit.pressure > 2:
            never |= is_peak & (ends > g.close)
        is_work = (_of(self.own, "kind") == Kind.WORK) & (_of(self.own, "keep") < 0)
        bars_each = _of(self.own, "bars")[:, None]
        never |= off_bridge(g.frame, starts, bars_each, is_work[:, None])
        own_cost[never] = NEVER
        return own_cost

    @cached_property
    def arrival_cost(self) -> Floats:
        """What every arrival costs."""
        return np.asarray(self._places(self.arrivals, np.zeros(1, dtype=np.int64))[:, 0])

    @cached_property
    def open_cost(self) -> Floats:
        """What open bars cost at every bar."""
        return self._places(self.opens, self.bars)

    @cached_property
    def turn_cost(self) -> dict[int, Floats]:
        """What turning into each position costs at every bar."""
        rows = self._places(list(self.turns.values()), self.bars)
        return {position: rows[i] for i, position in enumerate(self.turns)}

    @cached_property
    def peak_costs(self) -> Floats:
        """What a peak of so many bars costs."""
        most = self.grounds.summit.most_bars + max((b.bars for b in self.own), default=0)
        return np.array([taste.peak_cost(self.grounds.frame, n) for n in range(most + 1)])

    def _never_prepared(self, *, is_late: bool) -> Bools:
        """Return which own blocks work on a small area where no long stroke can come before: what
        they cost for it is certain. A stretch passage can only prepare what `is_late`."""
        wide = self.home.wide
        for block in (*self.own, *self.arrivals, *self.turns.values()):
            wide |= block.wide if is_late or not block.stretch else 0
        return np.array([bool(b.small and not b.small & wide) for b in self.own], dtype=bool)

    @cached_property
    def close_cost(self) -> Floats:
        """What every closing passage costs at its one place."""
        total = np.zeros(len(self.closes))
        for left in np.unique(self.close_bars).tolist():
            mine = np.nonzero(self.close_bars == left)[0]
            at = np.array([self.grounds.bars - left], dtype=np.int64)
            total[mine] = self._places([self.closes[i] for i in mine], at)[:, 0]
        for i, block in enumerate(self.closes):
            last = self.material.techniques[block.parts[-1].technique]
            energy = float(last.energy)
            total[i] += taste.ending_cost(self.grounds.intention, last.family, energy)
        return total

    def _places(self, blocks: list[Block], bars: Ints) -> Floats:
        """Return what `blocks` cost at `bars`, whatever came before; never past the end."""
        if not blocks:
            return np.zeros((0, len(bars)))
        total = self._curves(blocks, bars) * self.prices.curve
        total += np.array([b.flat_cost for b in blocks])[:, None]
        if self.extra is not None:
            total += self.extra.table(blocks, bars)
        if self.track is not None:
            total += self.track.table(blocks, bars, self.material)
        total[bars[None, :] + _of(blocks, "bars")[:, None] > self.grounds.bars] = NEVER
        return total

    @cached_property
    def _shape(self) -> tuple[Floats, ...]:
        shape = shape_of(self.grounds.intention, self.grounds.bars)
        rows = (shape.pressure, shape.pressure_squares, shape.energy, shape.energy_squares)
        self._closeness_counts = shape.closeness_counts
        return tuple(np.array(row) for row in rows)

    def _curves(self, blocks: list[Block], bars: Ints) -> Floats:
        """Return the distance of `blocks` at `bars` from the intention's curves."""
        pressures, pressure_squares, energies, energy_squares = self._shape
        total = np.zeros((len(blocks), len(bars)))
        minutes, last = float(self.grounds.frame.bar_seconds / 60), self.grounds.bars
        for slot in range(max(len(b.stretches) for b in blocks)):
            having = [i for i, b in enumerate(blocks) if len(b.stretches) > slot]
            rows = np.array([blocks[i].stretches[slot] for i in having])
            at, length, pressure, energy, closeness = (rows[:, j : j + 1] for j in range(5))
            start = np.minimum(bars[None, :] + at.astype(np.int64), last)
            end = np.minimum(start + length.astype(np.int64), last)
            p = length * pressure**2 - 2 * pressure * (pressures[end] - pressures[start])
            p += pressure_squares[end] - pressure_squares[start]
            e = length * energy**2 - 2 * energy * (energies[end] - energies[start])
            e += energy_squares[end] - energy_squares[start]
            apart = curve.PRESSURE_COUNTS * p + curve.ENERGY_COUNTS * e
            apart += self._closeness_counts * (1 - closeness) * length
            total[having] += curve.WEIGHT * minutes * apart
        return total


class _Numbers:
    """Numbers for words, the same word the same number."""

    def __init__(self) -> None:
        self._known: dict[str, int] = {}

    def __call__(self, word: str) -> int:
        return self._known.setdefault(word, len(self._known))


def _begin(block: Block) -> tuple[Any, ...]:
    return (
        block.entry_region,
        block.entry_pressure,
        block.entry_free,
        block.technique,
        block.used,
        block.contact,
        block.family,
    )


def _end(block: Block) -> tuple[Any, ...]:
    return (
        block.exit_region,
        block.exit_counts,
        block.exit_free,
        block.technique,
        block.used,
        block.contact,
        block.family,
    )


def _first_of_each(numbers: Ints, blocks: list[Block]) -> list[Block]:
    """Return one block for every number from 0 on."""
    found: dict[int, Block] = {}
    for number, block in zip(numbers, blocks, strict=True):
        found.setdefault(int(number), block)
    return [found[i] for i in range(len(found))]


def _ends(blocks: list[Block], techniques: int, number: _Numbers, *, leaving: bool) -> Ends:
    uses = np.zeros((len(blocks), techniques))
    for i, block in enumerate(blocks):
        uses[i, list(block.numbers)] = 1.0
    return Ends(
        regions=_of(blocks, "exit_region" if leaving else "entry_region"),
        counts=_of(blocks, "exit_counts" if leaving else "entry_pressure"),
        free=_flags(blocks, "exit_free" if leaving else "entry_free"),
        techniques=_of(blocks, "technique"),
        families=np.array([number(b.family) for b in blocks], dtype=np.int64),
        uses=uses,
    )


def _of(blocks: list[Block], name: str) -> Ints:
    return np.array([int(getattr(b, name)) for b in blocks], dtype=np.int64)


def _flags(blocks: list[Block], name: str) -> Bools:
    return np.array([bool(getattr(b, name)) for b in blocks], dtype=bool)
