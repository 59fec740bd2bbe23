"""The time-expanded network: at every bar the obligations that may be met by then, and the moves
from each to the next. It forgets what the exact search remembers, so it holds every lawful plan and
some unlawful ones; its cheapest way is therefore never dearer than the best plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from rondel.model.brief import Brief
from rondel.planner import taste
from rondel.planner.blocks import Block
from rondel.planner.bridging import off_bridge
from rondel.planner.constraints import rhythm
from rondel.planner.places import Change, Node, Pattern, Places, Step, Steps, step_of
from rondel.planner.state import AFTER, BEFORE, FILLER, RHYTHM, STRETCH, WITHIN
from rondel.planner.table import Bools, Ints, Table

DIRECT, HOME, TURN, OPEN = 0, 1, 2, 3  # what stands last: work, or one of these

_LOOSE_KEEPS = 3  # untimed keeps that are followed; the others only the exact search knows


@dataclass(slots=True)
class Row:
    """A node at a bar, and the rows that moves lead to (the net's `count` where none does)."""

    bar: int
    tick: int
    node: Node
    steps: Ints  # by step number of the own blocks
    plain_steps: Ints  # the same where a filler does not count, as its place was touched before
    home: int
    spread: float  # what the refrain costs for standing away from its even place
    open: int
    open_cost: float
    turns: tuple[tuple[int, int, float], ...]  # position, row, cost
    may_close: bool
    past: int = 0  # number of what closing passages cost for what rows remember


class TooLarge(Exception):
    """The network would have more rows than are worth their while."""


class _Moves(NamedTuple):
    """Places that moves lead to from a node at a bar; -1 for none (see `Places`)."""

    place: int
    bar: int
    node: Node
    pattern: Pattern
    steps: Ints
    home: int
    open: int
    turns: tuple[tuple[int, int], ...]

    @property
    def others(self) -> Iterator[int]:
        """The places of a return, open bars and turnings."""
        if self.home >= 0:
            yield self.home
        if self.open >= 0:
            yield self.open
        for _, place in self.turns:
            yield place


@dataclass
class Net:
    """Rows in order of their bars."""

    table: Table
    is_wide: bool = False  # returns may stand as far from their even places as the rule allows
    is_fine: bool = False  # nodes remember rhythm and the peak row as well
    most_rows: int = 10**9
    rows: list[Row] = field(default_factory=list)
    roots: dict[tuple[int, int], int] | None = None  # where nodes remember more: by arrival

    def __post_init__(self) -> None:
        self._setup()
        self._windows()
        self._explore()

    @property
    def count(self) -> int:
        return len(self.rows)

    # ---- preparation ---------------------------------------------------------------------------

    def _setup(self) -> None:
        self._patterns: dict[tuple[object, ...], Pattern] = {}
        self._limits: dict[int, tuple[int, int, int]] = {}
        self._moves: dict[tuple[int, int, int], int] = {}
        self._spreads: dict[tuple[int, int], float] = {}
        self._alike: dict[tuple[object, ...], Pattern] = {}
        self._follows: dict[tuple[int, tuple[Change, ...]], Ints] = {}
        table, grounds = self.table, self.table.grounds
        self.brief: Brief = grounds.frame.brief
        steps: dict[Step, int] = {}
        numbers = [steps.setdefault(step_of(b), len(steps)) for b in table.own]
        self.steps = Steps(list(steps))
        self.step_of = np.array(numbers, dtype=np.int64)
        self.is_free_work = ~self.steps.is_peak & (np.array(self.steps.keeps, dtype=np.int64) < 0)
        self.most_changes = max(1, table.material.turns)
        self.asks_rhythm = rhythm.is_asked(grounds.intention) and self.is_fine
        self.may_stretch = table.material.may_stretch
        self.followed = self._followed_keeps()
        self.pieces = len(table.opens)
        self.follows_row = grounds.summit.is_longest and self.is_fine
        self.latest = grounds.bars - grounds.closing[0]

    def _followed_keeps(self) -> int:
        """Return the keeps that nodes remember, as bits: the timed ones and a few others."""
        mask, loose = 0, 0
        for i, window in enumerate(self.table.grounds.keep_windows):
            if window is not None or loose < _LOOSE_KEEPS:
                mask |= 1 << i
                loose += window is None
        return mask

    def _windows(self) -> None:
        """Work out between which bars each return may start, wherever the others stand."""
        g = self.table.grounds
        length, spacing = self.table.home.bars, g.spacing
        first, last = 0, spacing.latest_start(0, 0)
        self.first_start, self.last_start = [], []
        for done in range(g.returns):
            if done:
                first += length + spacing.least_gap
                last = spacing.latest_start(done, last + length)
            low, high = taste.return_window(g.bars, g.returns, length, done, is_wide=self.is_wide)
            first, last = max(first, low), min(last, high)
            self.first_start.append(first)
            self.last_start.append(last)

    # ---- exploration ---------------------------------------------------------------------------

    def _explore(self) -> None:
        """Number all nodes that can be reached, bar by bar."""
        places = self._places = Places(self.table.grounds.bars)
        for position, _ in enumerate(self.table.positions):
            for block in self.table.arrivals:
                node = places.number(self._arrived(block, position))
                if block.bars <= self._limits_of(node)[0]:
                    places.reach(places.at(node, block.bars))
        found: list[_Moves] = []
        for bar in self.table.bars.tolist():
            if len(found) > self.most_rows:
                raise TooLarge
            for node in places.met(bar):
                moves = self._moves_from(bar, node)
                found.append(moves)
                places.reach_all(moves.steps)
                for place in moves.others:
                    places.reach(place)
        found = self._leading_on(found)
        places.count([moves.place for moves in found])
        self.rows = [self._row(moves, places.rows()) for moves in found]

    def _leading_on(self, found: list[_Moves]) -> list[_Moves]:
        """Return those of all places, bar by bar, from which the close can be reached."""
        leads = self._places.none_yet()
        kept = []
        for moves in reversed(found):
            if (
                self._may_close(moves.bar, moves.node)
                or leads[moves.steps].any()
                or any(leads[place] for place in moves.others)
            ):
                leads[moves.place] = True
                kept.append(moves)
        return kept[::-1]

    def _arrived(self, block: Block, position: int) -> Node:
        keeps = 1 << block.keep & self.followed if block.keep >= 0 else 0
        return Node(0, BEFORE, 0, 0, position, keeps, 0, 0, DIRECT)

    def root_row(self, block: Block, position: int) -> int:
        """Return the row after an arrival."""
        if self.roots is not None:
            return self.roots.get((id(block), position), self.count)
        places = self._places
        number = places.number(self._arrived(block, position))
        return int(places.rows()[places.at(number, block.bars)])

    def _moves_from(self, bar: int, number: int) -> _Moves:
        """Return where all moves lead from a node at a bar."""
        node, at = self._places.nodes[number], self._places.at
        pattern = self._pattern_at(bar, node, number)
        steps = self._following(number, pattern.changes)[pattern.which] + pattern.ends
        home = free = -1
        if self._may_go_home(bar, node, number):
            length = self.table.home.bars
            home = at(self._moved(number, HOME, node.position), bar + length)
        if self._may_open(bar, node, number):
            length = self.table.opens[node.opens].bars
            free = at(self._moved(number, OPEN, node.position), bar + length)
        turns = tuple(
            (position, at(self._moved(number, TURN, position), bar + block.bars))
            for position, block in self.table.turns.items()
            if self._may_turn(bar, node, number, position)
        )
        return _Moves(at(number, bar), bar, node, pattern, steps, home, free, turns)

    def _row(self, moves: _Moves, rows: NDArray[np.int32]) -> Row:
        """Return the row of a node, once all are numbered."""
        table, bar, node, pattern = self.table, moves.bar, moves.node, moves.pattern
        tick = table.tick_of[bar]
        turns = []
        for position, to in moves.turns:
            cost = self._turn_cost(bar, table.turns[position], position)
            cost += float(table.turn_cost[position][tick])
            turns.append((position, int(rows[to]), cost))
        numbers = np.empty(len(moves.steps) + 1, dtype=np.int64)
        numbers[:-1] = rows[moves.steps]
        numbers[-1] = rows[-1]
        steps = numbers[pattern.of_step]
        is_plain = pattern.of_plain_step is pattern.of_step
        return Row(
            bar=bar,
            tick=tick,
            node=node,
            steps=steps,
            plain_steps=steps if is_plain else numbers[pattern.of_plain_step],
            home=int(rows[moves.home]),
            spread=self._spread(bar, node),
            open=int(rows[moves.open]),
            open_cost=self._open_cost(bar, node, tick),
            turns=tuple(turns),
            may_close=self._may_close(bar, node),
        )

    def _following(self, number: int, changes: tuple[Change, ...]) -> Ints:
        """Return the places (at bar 0) of the nodes that `changes` make of one."""
        key = number, changes
        if key not in self._follows:
            node, places = self._places.nodes[number], self._places
            found = [places.at(places.number(self._changed(node, c)), 0) for c in changes]
            self._follows[key] = np.array(found, dtype=np.int64)
        return self._follows[key]

    def _moved(self, number: int, mode: int, position: int) -> int:
        """Return the number of the node after a return, open bars or a turning."""
        key = number, mode, position
        if key not in self._moves:
            node = self._left(self._places.nodes[number])._replace(mode=mode, position=position)
            if mode == HOME:
                node = node._replace(returns=node.returns + 1)
            elif mode == OPEN:
                node = node._replace(opens=node.opens + 1)
            else:
                node = node._replace(changes=min(self.most_changes, node.changes + 1))
            self._moves[key] = self._places.number(node)
        return self._moves[key]

    # ---- moves ---------------------------------------------------------------------------------

    def _deadline(
        self, node: Node, *, keep: int = -1, is_home: bool = False, is_peak: bool = False
    ) -> int:
        """Return the last bar at which a block may end that is not itself what is waited for."""
        g, latest = self.table.grounds, self.latest
        if node.returns < g.returns and not is_home:
            latest = min(latest, self.last_start[node.returns])
        if node.phase == BEFORE and not is_peak:
            latest = min(latest, g.latest_peak)
        for i, window in enumerate(g.keep_windows):
            if window is not None and i != keep and not node.keeps >> i & 1:
                latest = min(latest, window[1])
        return latest

    def _limits_of(self, number: int) -> tuple[int, int, int]:
        """Return the deadlines of a node: of most blocks, of the peak, of a return."""
        if number not in self._limits:
            node = self._places.nodes[number]
            self._limits[number] = (
                self._deadline(node),
                self._deadline(node, is_peak=True),
                self._deadline(node, is_home=True),
            )
        return self._limits[number]

    def _pattern_at(self, bar: int, node: Node, number: int) -> Pattern:
        """Return where every own step leads that is lawful here."""
        limits = self._limits_of(number)[:2]
        # What is insisted on has deadlines of its own, which hang on the returns.
        returns = node.returns if self.followed & ~node.keeps else -1
        key = bar, limits, node.phase, node.row, node.keeps, node.flags, returns
        if key not in self._patterns:
            g = self.table.grounds
            may_filler = bar >= g.first_filler and not node.flags & FILLER
            may_rhythm = self.asks_rhythm and bar >= g.opening
            able = self._able_steps(bar, node, *limits)
            # What may follow is mostly the same at many bars.
            alike = able.tobytes(), node.flags, may_filler, may_rhythm
            if alike not in self._alike:
                self._alike[alike] = self.steps.pattern(
                    able, node.flags, may_filler=may_filler, may_rhythm=may_rhythm
                )
            self._patterns[key] = self._alike[alike].later(bar)
        return self._patterns[key]

    def _able_steps(self, bar: int, node: Node, latest: int, latest_peak: int) -> Bools:
        """Return which steps are lawful for a node at a bar."""
        steps, g = self.steps, self.table.grounds
        ends = bar + steps.bars
        able = ends <= np.where(steps.is_peak, latest_peak, latest)
        able &= ~off_bridge(g.frame, np.int64(bar), steps.bars, self.is_free_work)
        for i in steps.kept:
            able[i] = self._may_keep(bar, node, steps.keeps[i], int(ends[i]), steps.is_peak[i])
        if not self.may_leave(bar, node):
            able &= steps.is_peak
        if node.flags & STRETCH or bar < g.first_stretch:
            able &= ~steps.stretch
        else:
            able &= ~steps.stretch | (ends <= g.close)
        peaks = np.nonzero(able & steps.is_peak)[0]
        lengths = steps.bars[peaks].tolist()
        may_be = {bars: self._may_peak(bar, node, bars) for bars in set(lengths)}
        able[peaks] = [may_be[bars] for bars in lengths]
        return np.asarray(able)

    def _may_keep(self, bar: int, node: Node, keep: int, end: int, is_peak: bool) -> bool:
        window = self.table.grounds.keep_windows[keep]
        if node.keeps >> keep & 1 or (window and not window[0] <= bar <= window[1]):
            return False
        return end <= self._deadline(node, keep=keep, is_peak=is_peak)

    def _changed(self, node: Node, change: Change) -> Node:
        grows, keep, flags = change
        phase = WITHIN if grows else AFTER if node.phase == WITHIN else node.phase
        keeps = node.keeps | (1 << keep & self.followed if keep >= 0 else 0)
        return Node(
            node.returns,
            phase,
            node.opens,
            node.changes,
            node.position,
            keeps,
            flags,
            node.row + grows if grows and self.follows_row else 0,
            DIRECT,
        )

    def may_leave(self, bar: int, node: Node) -> bool:
        """True where a peak row that ends at `bar`, if one does, is well placed."""
        if node.phase != WITHIN or not self.follows_row:
            return True
        return self.table.grounds.summit.is_placed(bar - node.row, node.row)

    def _may_peak(self, bar: int, node: Node, bars: int) -> bool:
        summit, phase = self.table.grounds.summit, node.phase
        if phase == WITHIN:
            if not self.follows_row:
                return summit.is_longest
            return summit.may_reach(bar - node.row, node.row + bars)
        if phase == AFTER or not summit.may_begin(bar, self.table.grounds.shortest_peak):
            return False
        if not summit.may_reach(bar, bars):
            return False
        return summit.is_longest or summit.is_placed(bar, bars)

    def _may_go_home(self, bar: int, node: Node, number: int) -> bool:
        g, length = self.table.grounds, self.table.home.bars
        done = node.returns
        if node.mode in (HOME, TURN) or done >= g.returns or not self.may_leave(bar, node):
            return False
        if not self.first_start[done] <= bar <= self.last_start[done]:
            return False
        if not g.spacing.may_start(bar, done, max(0, bar - g.spacing.least_gap)):
            return False
        if bar < g.opening and not self.table.home.opens:
            return False
        return bar + length <= self._limits_of(number)[2]

    def _left(self, node: Node) -> Node:
        """Return `node` with its peak row, if it was within one, behind it."""
        return node._replace(phase=AFTER, row=0) if node.phase == WITHIN else node

    def _spread(self, bar: int, node: Node) -> float:
        key = bar, node.returns
        if key not in self._spreads:
            g, length = self.table.grounds, self.table.home.bars
            self._spreads[key] = taste.spread_cost(g.bars, g.returns, length, node.returns, bar)
        return self._spreads[key]

    def _may_open(self, bar: int, node: Node, number: int) -> bool:
        if node.opens >= self.pieces or node.mode == OPEN or not self.may_leave(bar, node):
            return False
        g, block = self.table.grounds, self.table.opens[node.opens]
        return bar >= g.opening and bar + block.bars <= self._limits_of(number)[0]

    def _open_cost(self, bar: int, node: Node, tick: int) -> float:
        if node.opens >= self.pieces:
            return 0.0
        g, block = self.table.grounds, self.table.opens[node.opens]
        place = float(self.table.open_cost[node.opens, tick])
        return place + taste.open_cost(g.bars, self.pieces, node.opens, bar, block.bars)

    def _may_turn(self, bar: int, node: Node, number: int, position: int) -> bool:
        g, block = self.table.grounds, self.table.turns[position]
        if node.mode not in (HOME, OPEN) or position == node.position or g.most_changes < 1:
            return False
        return bar >= g.opening and bar + block.bars <= min(self._limits_of(number)[0], g.close)

    def _turn_cost(self, bar: int, block: Block, position: int) -> float:
        g, turns = self.table.grounds, self.table.material.turns
        cost = g.turned_cost + taste.position_cost(self.brief, self.table.positions[position])
        return cost + taste.token_cost(g.bars, turns, bar, bar + block.bars)

    def _may_close(self, bar: int, node: Node) -> bool:
        g = self.table.grounds
        left = g.bars - bar
        if not g.closing[0] <= left <= g.closing[1] or node.returns < g.returns:
            return False
        if node.opens < self.pieces or node.phase == BEFORE or not self.may_leave(bar, node):
            return False
        return self.missing(node) >= -1

    def missing(self, node: Node) -> int:
        """Return the one keep that the close must hold; -1 for none, -2 where it cannot."""
        left = self.followed & ~node.keeps
        if not left:
            return -1
        ends = {b.keep for b in self.table.closes if b.keep >= 0}
        return next((keep for keep in sorted(ends) if left == 1 << keep), -2)

    def left_undone(self, node: Node) -> float:
        """Return what a plan costs that ends with the obligations of `node` and no more."""
        prices = self.table.prices
        total = taste.unturned_cost(self.table.material.turns, node.changes)
        if self.asks_rhythm and not node.flags & RHYTHM:
            total += prices.rhythm
        if not node.flags & FILLER:
            total += prices.filler
        if self.may_stretch and not node.flags & STRETCH:
            total += taste.NO_STRETCH
        return total
