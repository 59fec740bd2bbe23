"""The time-expanded network: at every bar the obligations that may be met by then, and the moves
from each to the next. It forgets what the exact search remembers, so it holds every lawful plan and
some unlawful ones; its cheapest way is therefore never dearer than the best plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from rondel.model.brief import Brief
from rondel.planner import taste
from rondel.planner.blocks import Block, Kind
from rondel.planner.constraints import rhythm
from rondel.planner.state import AFTER, BEFORE, FILLER, RHYTHM, STRETCH, WITHIN
from rondel.planner.table import Ints, Table

DIRECT, HOME, TURN, OPEN = 0, 1, 2, 3  # what stands last: work, or one of these

_LOOSE_KEEPS = 3  # untimed keeps that are followed; the others only the exact search knows


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


@dataclass(frozen=True, slots=True)
class _Step:
    """Own blocks that change a node alike."""

    bars: int
    is_peak: bool
    keep: int
    alternates: bool
    light: bool
    stretch: bool


class TooLarge(Exception):
    """The network would have more rows than are worth their while."""


#: What a step changes: bars by which the peak row grows, the keep (or -1), the flags then.
_Change = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class _Pattern:
    """Where steps lead: ends and changes, and for each step which of them (-1: none)."""

    landings: list[tuple[int, _Change]]
    of_step: Ints
    of_plain_step: Ints


@dataclass(frozen=True, slots=True)
class _Landings:
    """A pattern and the ends and nodes that it comes to from one node."""

    pattern: _Pattern
    nodes: list[tuple[int, Node]]


@dataclass
class Net:
    """Rows in order of their bars. `root` gives the row after each arrival, by position."""

    table: Table
    is_wide: bool = False  # returns may stand as far from their even places as the rule allows
    is_fine: bool = False  # nodes remember rhythm and the peak row as well
    most_rows: int = 10**9
    rows: list[Row] = field(default_factory=list)
    root: dict[tuple[int, int], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._setup()
        self._windows()
        self._explore()

    @property
    def count(self) -> int:
        return len(self.rows)

    # ---- preparation ---------------------------------------------------------------------------

    def _setup(self) -> None:
        self._patterns: dict[tuple[object, ...], _Pattern] = {}
        table, grounds = self.table, self.table.grounds
        self.brief: Brief = grounds.frame.brief
        steps: dict[_Step, int] = {}
        numbers = [steps.setdefault(_step_of(b), len(steps)) for b in table.own]
        self.steps = list(steps)
        self.step_of = np.array(numbers, dtype=np.int64)
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
        known: dict[tuple[int, Node], int] = {}
        waiting: dict[int, dict[Node, None]] = {}
        for position, _ in enumerate(self.table.positions):
            for block in self.table.arrivals:
                node = self._arrived(block, position)
                if block.bars <= self._deadline(node):
                    _wait(waiting, block.bars, node)
        found: list[tuple[int, Node, _Landings]] = []
        for bar in self.table.bars.tolist():
            if len(found) > self.most_rows:
                raise TooLarge
            for node in waiting.pop(bar, ()):
                known[(bar, node)] = len(found)
                landings = self._landings(bar, node)
                found.append((bar, node, landings))
                for end, following in landings.nodes:
                    _wait(waiting, end, following)
                for end, following in self._others(bar, node):
                    _wait(waiting, end, following)
        self._known = known
        self.rows = [self._row(bar, node, landings) for bar, node, landings in found]

    def _arrived(self, block: Block, position: int) -> Node:
        keeps = 1 << block.keep & self.followed if block.keep >= 0 else 0
        return Node(0, BEFORE, 0, 0, position, keeps, 0, 0, DIRECT)

    def row_at(self, bar: int, node: Node) -> int:
        """Return the row of `node` at `bar`; `count` where there is none."""
        return self._known.get((bar, node), len(self._known))

    def root_row(self, block: Block, position: int) -> int:
        """Return the row after an arrival."""
        return self.row_at(block.bars, self._arrived(block, position))

    def _others(self, bar: int, node: Node) -> Iterator[tuple[int, Node]]:
        """Yield where the refrain, open bars and turnings lead."""
        home = self._after_home(bar, node)
        if home is not None:
            yield bar + self.table.home.bars, home
        free = self._after_open(bar, node)
        if free is not None:
            yield bar + self.table.opens[node.opens].bars, free
        for position, block in self.table.turns.items():
            turned = self._after_turn(bar, node, position)
            if turned is not None:
                yield bar + block.bars, turned

    def _row(self, bar: int, node: Node, landings: _Landings) -> Row:
        table = self.table
        rows = [self.row_at(end, following) for end, following in landings.nodes]
        numbers = np.array([*rows, len(self._known)], dtype=np.int64)
        tick = table.tick_of[bar]
        home, free = self._after_home(bar, node), self._after_open(bar, node)
        open_bars = table.opens[node.opens].bars if node.opens < self.pieces else 0
        turns = []
        for position, block in table.turns.items():
            turned = self._after_turn(bar, node, position)
            if turned is not None:
                cost = self._turn_cost(bar, block, position) + float(
                    table.turn_cost[position][tick]
                )
                turns.append((position, self.row_at(bar + block.bars, turned), cost))
        return Row(
            bar=bar,
            tick=tick,
            node=node,
            steps=numbers[landings.pattern.of_step],
            plain_steps=numbers[landings.pattern.of_plain_step],
            home=self.row_at(bar + table.home.bars, home) if home else len(self._known),
            spread=self._spread(bar, node),
            open=self.row_at(bar + open_bars, free) if free else len(self._known),
            open_cost=self._open_cost(bar, node, tick),
            turns=tuple(turns),
            may_close=self._may_close(bar, node),
        )

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

    def _landings(self, bar: int, node: Node) -> _Landings:
        """Return where every own step leads that is lawful here."""
        limits = self._deadline(node), self._deadline(node, is_peak=True)
        # What is insisted on has deadlines of its own, which hang on the returns.
        returns = node.returns if self.followed & ~node.keeps else -1
        key = bar, limits, node.phase, node.row, node.keeps, node.flags, returns
        if key not in self._patterns:
            self._patterns[key] = self._pattern(bar, node, *limits)
        pattern = self._patterns[key]
        nodes: dict[_Change, Node] = {}
        for _, change in pattern.landings:
            if change not in nodes:
                nodes[change] = self._changed(node, change)
        return _Landings(pattern, [(end, nodes[change]) for end, change in pattern.landings])

    def _pattern(self, bar: int, node: Node, latest: int, latest_peak: int) -> _Pattern:
        """Work out where steps lead that hangs on little of the node."""
        g = self.table.grounds
        may_filler = bar >= g.first_filler and not node.flags & FILLER
        may_rhythm = self.asks_rhythm and bar >= g.opening
        found: dict[tuple[int, _Change], int] = {}
        of_step = np.full(len(self.steps), -1, dtype=np.int64)
        of_plain = of_step.copy()
        for i, step in enumerate(self.steps):
            end = bar + step.bars
            if end > (latest_peak if step.is_peak else latest) and step.keep < 0:
                continue
            if not self._may_step(bar, node, step):
                continue
            flags = node.flags | (STRETCH if step.stretch else 0)
            flags |= RHYTHM if step.alternates and may_rhythm else 0
            grows = step.bars if step.is_peak else 0
            plain = end, (grows, step.keep, flags)
            of_step[i] = of_plain[i] = found.setdefault(plain, len(found))
            if step.light and may_filler:
                filler = end, (grows, step.keep, flags | FILLER)
                of_step[i] = found.setdefault(filler, len(found))
        return _Pattern(list(found), of_step, of_plain)

    def _may_step(self, bar: int, node: Node, step: _Step) -> bool:
        g, end = self.table.grounds, bar + step.bars
        if step.is_peak and not self._may_peak(bar, node, step):
            return False
        if not step.is_peak and not self.may_leave(bar, node):
            return False
        if step.keep >= 0:
            window = g.keep_windows[step.keep]
            if node.keeps >> step.keep & 1 or (window and not window[0] <= bar <= window[1]):
                return False
            if end > self._deadline(node, keep=step.keep, is_peak=step.is_peak):
                return False
        if step.stretch:
            return not node.flags & STRETCH and bar >= g.first_stretch and end <= g.close
        return True

    def _changed(self, node: Node, change: _Change) -> Node:
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

    def _may_peak(self, bar: int, node: Node, step: _Step) -> bool:
        summit, phase = self.table.grounds.summit, node.phase
        if phase == WITHIN:
            if not self.follows_row:
                return summit.is_longest
            return summit.may_reach(bar - node.row, node.row + step.bars)
        if phase == AFTER or not summit.may_begin(bar, self.table.grounds.shortest_peak):
            return False
        if not summit.may_reach(bar, step.bars):
            return False
        return summit.is_longest or summit.is_placed(bar, step.bars)

    def _after_home(self, bar: int, node: Node) -> Node | None:
        g, length = self.table.grounds, self.table.home.bars
        done = node.returns
        if node.mode in (HOME, TURN) or done >= g.returns or not self.may_leave(bar, node):
            return None
        if not self.first_start[done] <= bar <= self.last_start[done]:
            return None
        if not g.spacing.may_start(bar, done, max(0, bar - g.spacing.least_gap)):
            return None
        if bar < g.opening and not self.table.home.opens:
            return None
        if bar + length > self._deadline(node, is_home=True):
            return None
        return self._left(node)._replace(returns=done + 1, mode=HOME)

    def _left(self, node: Node) -> Node:
        """Return `node` with its peak row, if it was within one, behind it."""
        return node._replace(phase=AFTER, row=0) if node.phase == WITHIN else node

    def _spread(self, bar: int, node: Node) -> float:
        g = self.table.grounds
        return taste.spread_cost(g.bars, g.returns, self.table.home.bars, node.returns, bar)

    def _after_open(self, bar: int, node: Node) -> Node | None:
        if node.opens >= self.pieces or node.mode == OPEN or not self.may_leave(bar, node):
            return None
        g, block = self.table.grounds, self.table.opens[node.opens]
        if bar < g.opening or bar + block.bars > self._deadline(node):
            return None
        return self._left(node)._replace(opens=node.opens + 1, mode=OPEN)

    def _open_cost(self, bar: int, node: Node, tick: int) -> float:
        if node.opens >= self.pieces:
            return 0.0
        g, block = self.table.grounds, self.table.opens[node.opens]
        place = float(self.table.open_cost[node.opens, tick])
        return place + taste.open_cost(g.bars, self.pieces, node.opens, bar, block.bars)

    def _after_turn(self, bar: int, node: Node, position: int) -> Node | None:
        g, block = self.table.grounds, self.table.turns[position]
        if node.mode not in (HOME, OPEN) or position == node.position or g.most_changes < 1:
            return None
        if bar < g.opening or bar + block.bars > min(self._deadline(node), g.close):
            return None
        changes = min(self.most_changes, node.changes + 1)
        return self._left(node)._replace(changes=changes, position=position, mode=TURN)

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


def _step_of(block: Block) -> _Step:
    is_peak = block.kind is Kind.PEAK
    return _Step(block.bars, is_peak, block.keep, block.alternates, block.light, block.stretch)


def _wait(waiting: dict[int, dict[Node, None]], bar: int, node: Node) -> None:
    waiting.setdefault(bar, {})[node] = None
