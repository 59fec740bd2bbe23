"""From one state to the next: which blocks may follow, what they cost, and what is then known."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from rondel.model.words import Position
from rondel.planner import taste
from rondel.planner.blocks import Block, Kind, curve_cost
from rondel.planner.constraints import (
    close,
    contact_kept,
    filler,
    focus,
    keep,
    level,
    opening,
    positions,
    refrain_spacing,
    repeat,
    rhythm,
    small_areas,
    vary,
    warm,
)
from rondel.planner.curves import shape_of
from rondel.planner.state import (
    AFTER,
    BEFORE,
    FILLER,
    RHYTHM,
    STRETCH,
    USE_BITS,
    USE_MASK,
    WITHIN,
    State,
)
from rondel.planner.stock import Stock, close_blocks

#: An extra cost of a block at a bar, for staying near a plan or away from one.
Extra = Callable[[Block, int, Position], float]

_MAIN_BITS = 16
_MAIN_MASK = (1 << _MAIN_BITS) - 1


class Move(NamedTuple):
    """A block that may follow `parent`, with the cost of the plan up to its end.

    Ordered by `rank`, then by the order in which moves were found. `group` tells plans apart
    that have met different obligations, so that the beam keeps some of each.
    """

    rank: float
    order: int
    cost: float
    parent: State | None
    block: Block
    position: Position
    group: tuple[int, ...]


class Moves:
    """The successor function of one search: the stock, the limits in bars, and the costs."""

    def __init__(self, stock: Stock, extra: Extra | None = None) -> None:
        self.stock, self.extra = stock, extra
        frame, material = stock.frame, stock.material
        self.frame, self.material = frame, material
        self.bars, self.brief = frame.bars, frame.brief
        self.minutes = float(self.brief.minutes)
        self.bar_minutes = float(frame.bar_seconds / 60)
        self.shape = shape_of(self.brief.intention, frame.bars)
        self.opening = opening.first_free_bar(frame)
        self.close = close.last_free_bar(frame)
        self.closing = frame.closing
        self.home = stock.refrain.block
        self.spacing = refrain_spacing.spacing(
            frame, length=self.home.bars, least_tail=self.closing[0]
        )
        self.warm_need = warm.need_bars(frame)
        self.most_changes = positions.most_changes(self.brief.minutes)
        self.first_stretch = level.first_stretch_bar(frame)
        self.first_filler = filler.first_bar(frame)
        self.window = frame.at_most(repeat.WINDOW_SECONDS)
        self.again = tuple(vary.again(n, self.minutes) for n in range(4))
        self.turned = taste.TURNED_ASKED if len(self.brief.positions) > 1 else taste.TURNED
        self.keep_windows = tuple(keep.start_window(k, frame) for k in self.brief.keep)
        self.all_keeps = (1 << len(self.keep_windows)) - 1
        self.slots = self._slots()
        self.expected = max(1, frame.bars - frame.refrains * self.home.bars - self.closing[0])
        self.order = 0
        self._followers: dict[tuple[object, ...], list[tuple[Block, float]]] = {}
        self._flat: dict[int, dict[int, float]] = {}
        self._closes: dict[int, tuple[Block, ...]] = {}
        self._middles = self._latest_peak()

    def _slots(self) -> dict[int, int]:
        """Return a place in the packed warming for every region that may be worked deep."""
        blocks = (*self.stock.peaks, *self.stock.kept)
        deep = sorted({b.deep_region for b in blocks if b.deep_region >= 0})
        return {region: slot for slot, region in enumerate(deep)}

    def _latest_peak(self) -> int:
        """Return the last bar at which the shortest peak may start."""
        shortest = min((b.bars for b in self._peak_blocks()), default=0)
        return int((self.stock.summit.last - shortest) // 2)

    def _peak_blocks(self) -> list[Block]:
        return [*self.stock.peaks, *(b for b in self.stock.kept if b.kind is Kind.PEAK)]

    # ---- costs ----------------------------------------------------------------------------

    def place_cost(self, block: Block, bar: int, position: Position) -> float:
        """Return what `block` costs at `bar`, whatever came before."""
        at = self._flat.setdefault(bar, {})
        key = id(block)
        found = at.get(key)
        if found is None:
            found = block.flat_cost
            if block.stretches:
                found += curve_cost(block, self.shape, bar, self.bar_minutes)
            if self.extra is not None:
                found += self.extra(block, bar, position)
            at[key] = found
        return found

    def history_cost(self, state: State, block: Block) -> float:
        """Return what `block` costs for what was there before: repeats, sameness, small areas."""
        total = 0.0
        if block.used & state.used_last:
            total += repeat.AT_ONCE
        if block.contact == state.contact:
            total += vary.CONTACT
        if block.family == state.family:
            total += vary.FAMILY
        for number in block.numbers:
            before = state.uses >> (USE_BITS * number) & USE_MASK
            if before:
                total += self.again[before if before < 3 else 3]
                if before >= repeat.OFTEN and self._is_too_often(state, number):
                    total += repeat.TOO_OFTEN
        if block.small and not block.small & state.wide:
            total += small_areas.COST
        return total

    def _is_too_often(self, state: State, number: int) -> bool:
        """True where the technique started too often within the last quarter of an hour."""
        since, count, bit = state.bar - self.window, 0, 1 << number
        at: State | None = state
        while at is not None and at.start >= since:
            if at.block.used & bit and at.block.kind is not Kind.HOME:
                count += 1
            at = at.parent
        return repeat.is_too_often(count)

    def _lean(self, main_total: int, counted: int) -> float:
        """Return a forecast of the cost of `focus`, so that the beam does not put it off."""
        short = 0.5 * counted - main_total
        return 12.0 * short / self.expected if short > 0 else 0.0

    # ---- successors -----------------------------------------------------------------------

    def first(self) -> list[Move]:
        """Return the arrivals, in every position that the refrain can be done in."""
        found = []
        kept = [b for b in self.stock.kept if b.kind is Kind.ARRIVE]
        for position in self.stock.refrain.positions:
            for block in (*self.stock.arrivals, *kept):
                if self.stock.may_lie(block, position) and block.bars <= self._deadline(None):
                    found.append(self._move(None, block, position, 0.0))
        return found

    def after(self, state: State) -> list[Move]:
        """Return every lawful next block."""
        found: list[Move] = []
        deadline = self._deadline(state)
        self._add_home(state, found)
        if state.bar + self.closing[0] <= self.bars:
            self._add_close(state, found)
        self._add_work(state, deadline, found)
        if state.phase != AFTER:
            self._add_peaks(state, deadline, found)
        if state.block.kind in (Kind.HOME, Kind.OPEN):
            self._add_turns(state, deadline, found)
        if state.opens < len(self.stock.open_blocks) and state.block.kind is not Kind.OPEN:
            self._add_open(state, deadline, found)
        if self.stock.kept and state.keeps != self.all_keeps:
            self._add_kept(state, deadline, found)
        return found

    def _deadline(self, state: State | None) -> int:
        """Return the last bar at which a block may end that is not what is waited for."""
        returns, home_end = (state.returns, state.home_end) if state else (0, 0)
        latest = self.bars - self.closing[0]
        if returns < self.frame.refrains:
            latest = min(latest, self.spacing.latest_start(returns, home_end))
        if state is None or state.phase == BEFORE:
            latest = min(latest, self._middles)
        for i, window in enumerate(self.keep_windows):
            if window is not None and not (state and state.keeps >> i & 1):
                latest = min(latest, window[1])
        return latest

    def _followers_of(self, state: State, pool: str) -> list[tuple[Block, float]]:
        """Return the blocks of a pool that reach, rise and position let follow, with the cost of
        a hand that leaves, shortest first."""
        key = (pool, state.position, state.region, state.exit_free, state.counts)
        found = self._followers.get(key)
        if found is None:
            blocks = self.stock.work if pool == "work" else tuple(self._peak_blocks())
            found = [
                (b, self._leaving(state, b))
                for b in sorted(blocks, key=lambda b: b.bars)
                if self._may_follow(state, b) and self.stock.may_lie(b, state.position)
            ]
            self._followers[key] = found
        return found

    def _may_follow(self, state: State, block: Block) -> bool:
        if block.entry_pressure > state.counts + 1:
            return False
        if block.entry_free or state.exit_free:
            return True
        return self.material.reach[state.region][block.entry_region]

    def _leaving(self, state: State, block: Block) -> float:
        if state.region < 0 or block.entry_region < 0:
            return 0.0
        stays = self.material.stays[state.region][block.entry_region]
        return 0.0 if stays else contact_kept.COST

    def _add_work(self, state: State, deadline: int, found: list[Move]) -> None:
        """Add ordinary work."""
        bar, summit = state.bar, self.stock.summit
        if state.phase == WITHIN and not self._may_leave_row(state):
            return
        room = state.row_bars - state.run if summit.is_longest and state.phase else self.bars
        group = self._group(state)
        for block, leaving in self._followers_of(state, "work"):
            end = bar + block.bars
            if end > deadline:
                break
            if bar < self.opening and not block.opens:
                continue
            if end > self.close and not block.closes:
                continue
            if block.stretch and not self._may_stretch(state, end):
                continue
            if summit.is_longest and block.exit_counts == 3 and block.bars >= room:
                continue
            cost = (
                state.cost
                + leaving
                + self.place_cost(block, bar, state.position)
                + self.history_cost(state, block)
            )
            if block.main >= 0:
                rank = cost + self._lean(state.main_total + block.bars, state.counted + block.bars)
            else:
                rank = cost + self._lean(state.main_total, state.counted + block.bars)
            self.order += 1
            found.append(Move(rank, self.order, cost, state, block, state.position, group))

    def _may_stretch(self, state: State, end: int) -> bool:
        return not state.flags & STRETCH and state.bar >= self.first_stretch and end <= self.close

    def _may_leave_row(self, state: State) -> bool:
        """True where the peak row, ended here, is well placed and long enough."""
        summit = self.stock.summit
        if not summit.is_placed(state.row_start, state.row_bars):
            return False
        return not summit.is_longest or state.row_bars > state.longest

    def _add_home(self, state: State, found: list[Move]) -> None:
        home = self.home
        if state.block.kind in (Kind.HOME, Kind.TURN):
            return
        if state.phase == WITHIN and not self._may_leave_row(state):
            return
        if not self.spacing.may_start(state.bar, state.returns, state.home_end):
            return
        if (state.bar < self.opening and not home.opens) or not self._may_follow(state, home):
            return
        if state.bar + home.bars > self._deadline_after_home(state):
            return
        spread = taste.spread_cost(
            self.bars, self.frame.refrains, home.bars, state.returns, state.bar
        )
        found.append(self._move(state, home, state.position, spread + self._leaving(state, home)))

    def _deadline_after_home(self, state: State) -> int:
        """Return the last bar at which a return may end."""
        latest = self.bars - self.closing[0]
        if state.phase == BEFORE:
            latest = min(latest, self._middles)
        for i, window in enumerate(self.keep_windows):
            if window is not None and not state.keeps >> i & 1:
                latest = min(latest, window[1])
        return latest

    def _add_peaks(self, state: State, deadline: int, found: list[Move]) -> None:
        """Add the peak, or more of it where it is not deep."""
        summit = self.stock.summit
        if state.phase == WITHIN and not summit.is_longest:
            return
        for block, leaving in self._followers_of(state, "peak"):
            if block.keep < 0:
                self._add_peak(state, block, leaving, deadline, found)

    def _add_peak(
        self, state: State, block: Block, leaving: float, deadline: int, found: list[Move]
    ) -> None:
        summit, bar = self.stock.summit, state.bar
        start = state.row_start if state.phase == WITHIN else bar
        row = bar + block.bars - start
        if not summit.may_reach(start, row) or not self._ends_in_time(state, block):
            return
        if not summit.is_longest and not summit.is_placed(start, row):
            return
        if bar < self.opening or bar + block.bars > self.close:
            return
        if block.deep_region >= 0:
            slot = self.slots[block.deep_region]
            if warm.bars_of(state.warmed, slot) < self.warm_need:
                return
        cost = leaving + self.history_cost(state, block)
        if block.main < 0 and state.phase == BEFORE:
            cost += taste.PEAK_ELSEWHERE
        found.append(self._move(state, block, state.position, cost))

    def _ends_in_time(self, state: State, block: Block) -> bool:
        """True where the peak does not outstay a refrain or a keep that is waited for."""
        latest = self.bars - self.closing[0]
        if state.returns < self.frame.refrains:
            latest = min(latest, self.spacing.latest_start(state.returns, state.home_end))
        for i, window in enumerate(self.keep_windows):
            if window is not None and not state.keeps >> i & 1 and i != block.keep:
                latest = min(latest, window[1])
        return state.bar + block.bars <= latest

    def _add_turns(self, state: State, deadline: int, found: list[Move]) -> None:
        if state.changes >= self.most_changes or state.phase == WITHIN:
            return
        for position, block in self.stock.turns.items():
            if position is state.position or position not in self.stock.refrain.positions:
                continue
            end = state.bar + block.bars
            if state.bar < self.opening or end > min(deadline, self.close):
                continue
            cost = self._leaving(state, block) * 0 + self.turned
            found.append(self._move(state, block, position, cost))

    def _add_open(self, state: State, deadline: int, found: list[Move]) -> None:
        block = self.stock.open_blocks[state.opens]
        if state.phase == WITHIN and not self._may_leave_row(state):
            return
        if state.bar < self.opening or state.bar + block.bars > deadline:
            return
        pieces = len(self.stock.open_blocks)
        cost = taste.open_cost(self.bars, pieces, state.opens, state.bar, block.bars)
        found.append(self._move(state, block, state.position, cost))

    def _add_close(self, state: State, found: list[Move]) -> None:
        """Add the close, where everything asked for has been done."""
        left = self.bars - state.bar
        if (
            left > self.closing[1]
            or state.returns < self.frame.refrains
            or state.opens < len(self.stock.open_blocks)
            or (state.phase != AFTER and not (state.phase == WITHIN and self._may_leave_row(state)))
        ):
            return
        if left not in self._closes:
            self._closes[left] = close_blocks(self.stock, left)
        kept = [b for b in self.stock.kept if b.kind is Kind.CLOSE and b.bars == left]
        for block in (*self._closes[left], *kept):
            done = state.keeps | (1 << block.keep if block.keep >= 0 else 0)
            if done != self.all_keeps or not self._is_in_window(state, block):
                continue
            if self._may_follow(state, block) and self.stock.may_lie(block, state.position):
                cost = self._leaving(state, block) + self.history_cost(state, block)
                found.append(self._move(state, block, state.position, cost))

    def _add_kept(self, state: State, deadline: int, found: list[Move]) -> None:
        """Add what the teacher insists on, where it may start here."""
        for block in self.stock.kept:
            if block.kind not in (Kind.WORK, Kind.PEAK) or state.keeps >> block.keep & 1:
                continue
            end = state.bar + block.bars
            if (
                not self._is_in_window(state, block)
                or not self._may_follow(state, block)
                or not self.stock.may_lie(block, state.position)
                or (state.bar < self.opening and not block.opens)
                or (end > self.close and not block.closes)
                or (block.stretch and not self._may_stretch(state, end))
            ):
                continue
            leaving = self._leaving(state, block)
            if block.kind is Kind.PEAK:
                if state.phase != AFTER:
                    self._add_peak(state, block, leaving, deadline, found)
            elif self._may_keep_as_work(state, block):
                cost = leaving + self.history_cost(state, block)
                found.append(self._move(state, block, state.position, cost))

    def _may_keep_as_work(self, state: State, block: Block) -> bool:
        summit = self.stock.summit
        if not self._ends_in_time(state, block):
            return False
        if state.phase == BEFORE and state.bar + block.bars > self._middles:
            return False
        if state.phase == WITHIN and not self._may_leave_row(state):
            return False
        if summit.is_longest and state.phase and block.exit_counts == 3:
            return block.bars < state.row_bars - state.run
        if block.deep_region >= 0:
            slot = self.slots[block.deep_region]
            return warm.bars_of(state.warmed, slot) >= self.warm_need
        return True

    def _is_in_window(self, state: State, block: Block) -> bool:
        if block.keep < 0:
            return True
        window = self.keep_windows[block.keep]
        return window is None or window[0] <= state.bar <= window[1]

    def _group(self, state: State) -> tuple[int, ...]:
        return (state.returns, state.phase != BEFORE, state.opens, state.keeps, state.changes)

    def _move(self, state: State | None, block: Block, position: Position, cost: float) -> Move:
        """Return the move of a block that is not ordinary work."""
        bar = state.bar if state else 0
        cost += self.place_cost(block, bar, position) + (state.cost if state else 0.0)
        self.order += 1
        if state is None:
            kept = 1 << block.keep if block.keep >= 0 else 0
            return Move(cost, self.order, cost, None, block, position, (0, 0, 0, kept, 0))
        kept = state.keeps | (1 << block.keep if block.keep >= 0 else 0)
        group = (
            state.returns + (block.kind is Kind.HOME),
            state.phase != BEFORE or block.kind is Kind.PEAK,
            state.opens + (block.kind is Kind.OPEN),
            kept,
            state.changes + (block.kind is Kind.TURN),
        )
        counts = block.kind is Kind.PEAK or (block.kind is Kind.WORK)
        rank = cost + self._lean(
            state.main_total + (block.bars if block.main >= 0 else 0),
            state.counted + (block.bars if counts else 0),
        )
        return Move(rank, self.order, cost, state, block, position, group)

    # ---- what is then known -----------------------------------------------------------------

    def arrive_at(self, move: Move) -> State:
        """Return the state after `move`."""
        before, block = move.parent, move.block
        s = State()
        s.parent, s.block, s.position, s.cost = before, block, move.position, move.cost
        s.start = before.bar if before else 0
        s.bar = s.start + block.bars
        s.region, s.counts, s.exit_free = block.exit_region, block.exit_counts, block.exit_free
        self._remember_home_and_peak(s, before, block)
        self._remember_body(s, before, block)
        self._remember_use(s, before, block)
        s.flags = self._flags(s, before, block)
        s.opens = (before.opens if before else 0) + (block.kind is Kind.OPEN)
        s.keeps = (before.keeps if before else 0) | (1 << block.keep if block.keep >= 0 else 0)
        s.changes = (before.changes if before else 0) + (block.kind is Kind.TURN)
        return s

    def _remember_home_and_peak(self, s: State, before: State | None, block: Block) -> None:
        s.returns = before.returns if before else 0
        s.home_end = before.home_end if before else 0
        if block.kind is Kind.HOME:
            s.returns, s.home_end = s.returns + 1, s.bar
        s.phase = before.phase if before else BEFORE
        s.row_start, s.row_bars = (before.row_start, before.row_bars) if before else (0, 0)
        s.run, s.longest = (before.run, before.longest) if before else (0, 0)
        if block.kind is Kind.PEAK:
            if s.phase == BEFORE:
                s.phase, s.row_start, s.row_bars = WITHIN, s.start, 0
            s.row_bars += block.bars
            s.run = 0
            return
        if s.phase == WITHIN:
            s.phase = AFTER
        s.run = s.run + block.bars if block.exit_counts == 3 and block.kind is Kind.WORK else 0
        s.longest = max(s.longest, s.run)

    def _remember_body(self, s: State, before: State | None, block: Block) -> None:
        s.touched = (before.touched if before else 0) | block.touched
        s.wide = (before.wide if before else 0) | block.wide
        s.warmed = before.warmed if before else 0
        for region, bars in block.warmed:
            slot = self.slots.get(region)
            if slot is not None:
                s.warmed = warm.add(s.warmed, slot, bars)

    def _remember_use(self, s: State, before: State | None, block: Block) -> None:
        s.uses, s.used_last = (before.uses, before.used_last) if before else (0, 0)
        s.contact, s.family = (before.contact, before.family) if before else ("", "")
        s.main, s.main_total = (before.main, before.main_total) if before else (0, 0)
        s.counted = before.counted if before else 0
        if block.kind in (Kind.HOME, Kind.OPEN, Kind.TURN):
            return
        for number in block.numbers:
            if s.uses_of(number) < USE_MASK:
                s.uses += 1 << (USE_BITS * number)
        s.used_last, s.contact, s.family = block.used, block.contact, block.family
        if block.kind in (Kind.WORK, Kind.PEAK):
            s.counted += block.bars
            if block.main >= 0:
                s.main += block.bars << (_MAIN_BITS * block.main)
                s.main_total += block.bars

    def _flags(self, s: State, before: State | None, block: Block) -> int:
        flags = before.flags if before else 0
        if block.alternates and s.start >= self.opening:
            flags |= RHYTHM
        if block.stretch:
            flags |= STRETCH
        if before and block.light and s.start >= self.first_filler:
            flags |= FILLER if block.touched & ~before.touched else 0
        return flags

    # ---- the end ----------------------------------------------------------------------------

    def final_cost(self, state: State) -> float:
        """Return the cost of the whole plan, with what it leaves undone."""
        total = state.cost
        count = len(self.material.mains)
        mains = [state.main >> (_MAIN_BITS * i) & _MAIN_MASK for i in range(count)]
        total += focus.cost(mains, state.counted)
        if rhythm.is_asked(self.brief.intention) and not state.flags & RHYTHM:
            total += rhythm.COST
        if not state.flags & FILLER:
            total += filler.COST
        if self.material.may_stretch and not state.flags & STRETCH:
            total += taste.NO_STRETCH
        return total
