"""From one state to the next: which blocks may follow, and what each plan then costs."""

from __future__ import annotations

from rondel.model.words import Position
from rondel.planner import taste
from rondel.planner.blocks import Block, Kind
from rondel.planner.constraints import warm
from rondel.planner.costs import Costs, Extra, Recent
from rondel.planner.grounds import grounds_of
from rondel.planner.state import AFTER, BEFORE, STRETCH, WITHIN, State, main_bars
from rondel.planner.stock import Stock, close_blocks

#: A block that may follow: (rank, order, cost up to its end, state before, block, position,
#: group). Sorted by rank, then by the order in which moves were found. `group` tells plans apart
#: that have met different obligations, so that the beam keeps some of each.
Move = tuple[float, int, float, State | None, Block, Position, tuple[int, ...]]

#: Work that may follow at one bar: (cost of the place, block, its end, is it on a main region).
Ready = tuple[float, Block, int, bool]

_READY_MOST = 72  # blocks of work that are looked at from one state
_READY_ALIKE = 3  # of one technique


class Moves:
    """The successor function of one search."""

    def __init__(self, stock: Stock, extra: Extra | None = None) -> None:
        self.stock, self.grounds = stock, grounds_of(stock)
        self.costs = Costs(self.grounds, extra)
        brief = self.grounds.frame.brief
        # In the longest forms plans that have turned need no help, and the search no more work.
        self._wished_turns = taste.wished_turns(brief) if brief.minutes <= 60 else 0
        self.order = 0
        self._peak_energies = {
            position: max(
                (b.energy for b in stock.peaks if stock.may_lie(b, position)), default=-1.0
            )
            for position in stock.refrain.positions
        }
        self._suits: dict[tuple[int, Position], bool] = {}
        self._due = frozenset(
            bar
            for window in self.grounds.keep_windows
            if window is not None
            for bar in range(window[0], window[1] + 1)
        )
        self._recent: tuple[State, Recent] | None = None
        self._longest = max((b.bars for b in (*stock.work, *stock.peaks)), default=0)
        self._followers: dict[tuple[object, ...], list[tuple[Block, float]]] = {}
        self._places: dict[tuple[int, int], float] = {}
        self._ready: dict[tuple[object, ...], list[Ready]] = {}
        self._closes: dict[int, tuple[Block, ...]] = {}

    @property
    def bars(self) -> int:
        return self.grounds.bars

    # ---- the lists that are shared by states ------------------------------------------------

    def forget_places(self) -> None:
        """Drop what was worked out for one bar; the search goes bar by bar and never back."""
        self._places.clear()
        self._ready.clear()

    def _place(self, block: Block, bar: int, position: Position) -> float:
        key = (id(block), bar)
        found = self._places.get(key)
        if found is None:
            found = self._places[key] = self.costs.place(block, bar, position)
        return found

    def _may_follow(self, state: State, block: Block) -> bool:
        """True where pressure rises by one at most, and the hands reach."""
        if block.entry_pressure > state.counts + 1:
            return False
        if block.entry_free or state.exit_free:
            return True
        return self.grounds.material.reach[state.region][block.entry_region]

    def _may_be_next(self, state: State, pool: tuple[Block, ...]) -> list[tuple[Block, float]]:
        """Return the blocks of `pool` that reach, rise and position let follow, with the cost
        of a hand that leaves."""
        key = (id(pool), state.position, state.region, state.exit_free, state.counts)
        found = self._followers.get(key)
        if found is None:
            found = self._followers[key] = [
                (b, self.costs.leaving(state, b))
                for b in pool
                if self._may_follow(state, b) and self.stock.may_lie(b, state.position)
            ]
        return found

    def _ready_after(self, state: State, pool: tuple[Block, ...], deadline: int) -> list[Ready]:
        """Return the most promising of `pool` after `state`, shared by states that end alike."""
        deadline = min(deadline, state.bar + self._longest)
        key = (id(pool), state.position, state.region, state.exit_free, state.counts, deadline)
        found = self._ready.get(key)
        if found is None:
            found = self._ready[key] = self._promising(state, pool, deadline)
        return found

    def _promising(self, state: State, pool: tuple[Block, ...], deadline: int) -> list[Ready]:
        """Return the cheapest blocks a bar, a few lengths and pressures of every technique."""
        bar, grounds = state.bar, self.grounds
        rated: list[tuple[float, int, Ready]] = []
        for i, (block, leaving) in enumerate(self._may_be_next(state, pool)):
            end = bar + block.bars
            if end > deadline:
                continue
            if (bar < grounds.opening and not block.opens) or (
                end > grounds.close and not block.closes
            ):
                continue
            if block.stretch and (bar < grounds.first_stretch or end > grounds.close):
                continue
            cost = leaving + self._place(block, bar, state.position)
            is_main = block.main >= 0
            worth = (cost - (2.0 if is_main else 0.0)) / block.bars
            rated.append((worth, i, (cost, block, end, is_main)))
        rated.sort()
        return _some_of_each(rated)

    # ---- successors -------------------------------------------------------------------------

    def first(self) -> list[Move]:
        """Return the arrivals, in every position that the refrain can be done in."""
        found: list[Move] = []
        kept = [b for b in self.stock.kept if b.kind is Kind.ARRIVE]
        for position in self.stock.refrain.positions:
            for block in (*self.stock.arrivals, *kept):
                if self.stock.may_lie(block, position) and block.bars <= self._deadline(None):
                    cost = taste.position_cost(self.grounds.frame.brief, position)
                    self._add(found, None, block, position, cost)
        return found

    def after(self, state: State) -> list[Move]:
        """Return every lawful next block."""
        found: list[Move] = []
        if state.phase == WITHIN and not self._may_leave_row(state):
            self._add_peaks(state, found)
            return found
        deadline = self._deadline(state)
        self._add_home(state, found)
        self._add_close(state, found)
        self._add_work(state, deadline, found)
        if state.phase != AFTER:
            self._add_peaks(state, found)
        self._add_turns(state, deadline, found)
        self._add_open(state, deadline, found)
        if state.keeps != self.grounds.all_keeps:
            self._add_kept(state, found)
        return found

    def _deadline(
        self,
        state: State | None,
        *,
        keep: int = -1,
        is_home: bool = False,
        is_peak: bool = False,
    ) -> int:
        """Return the last bar at which a block may end that is not itself what is waited for:
        the close, the next return, the peak, or what is insisted on at a time."""
        g = self.grounds
        returns, home_end = (state.returns, state.home_end) if state else (0, 0)
        latest = g.bars - g.closing[0]
        if returns < g.returns and not is_home:
            latest = min(latest, g.spacing.latest_start(returns, home_end))
        if (state is None or state.phase == BEFORE) and not is_peak:
            latest = min(latest, g.latest_peak)
        for i, window in enumerate(g.keep_windows):
            if window is not None and i != keep and not (state and state.keeps >> i & 1):
                latest = min(latest, window[1])
        return latest

    def _recent_of(self, state: State) -> Recent:
        """Return what came lately, worked out once a state."""
        if self._recent is None or self._recent[0] is not state:
            self._recent = (state, self.costs.recent(state))
        return self._recent[1]

    def _add_work(self, state: State, deadline: int, found: list[Move]) -> None:
        """Add ordinary work. This is where the search spends its time."""
        costs, order, room = self.costs, self.order, self._room_at_three(state)
        group: tuple[int, ...] = (
            min(state.changes, self._wished_turns),
            state.returns,
            state.phase != BEFORE,
            state.opens,
            state.keeps,
            self._suits_keeps(state.keeps, state.position),
        )
        main_total, counted, base = state.main_total, state.counted, state.cost
        mains = main_bars(state.main, len(self.grounds.material.mains))
        forecasts: dict[tuple[int, int], float] = {}
        recent, most_energy = self._recent_of(state), self._most_energy(state)
        position, bar, has_stretched = state.position, state.bar, state.flags & STRETCH
        for place, block, end, is_main in self._ready_after(state, self.stock.work, deadline):
            if block.exit_counts == 3 and block.bars >= room:
                continue
            if has_stretched and block.stretch:
                continue
            if block.energy > most_energy:
                continue
            cost = base + place + costs.history(state, block, recent)
            bars = end - bar
            rank = cost + costs.lean(main_total + bars if is_main else main_total, counted + bars)
            key = block.main, bars
            if key not in forecasts:
                forecasts[key] = costs.uneven(mains, counted, *key)
            rank += forecasts[key]
            order += 1
            is_due = end in self._due and self._is_led_to_keep(state.keeps, block, position, end)
            of = (*group, 1) if is_due else group
            found.append((rank, order, cost, state, block, position, of))
        self.order = order

    def _room_at_three(self, state: State) -> int:
        """Return the bars from which on work at 3 would outlast a peak at 3."""
        if self.grounds.summit.is_longest and state.phase != BEFORE:
            return state.row_bars - state.run
        return self.bars

    def _most_energy(self, state: State) -> float:
        """Return the most energy that work may have, lest it outshine a light peak."""
        if not self.grounds.summit.is_brightest:
            return 2.0
        return self._peak_energies[state.position] if state.phase == BEFORE else state.peak_energy

    def _may_leave_row(self, state: State) -> bool:
        """True where the peak row, ended here, is well placed and long enough."""
        summit = self.grounds.summit
        if not summit.is_placed(state.row_start, state.row_bars):
            return False
        return not summit.is_longest or state.row_bars > state.longest

    def _add_home(self, state: State, found: list[Move]) -> None:
        g, home = self.grounds, self.grounds.home
        if state.block.kind in (Kind.HOME, Kind.TURN) or not self._may_follow(state, home):
            return
        if not g.spacing.may_start(state.bar, state.returns, state.home_end):
            return
        if state.bar < g.opening and not home.opens:
            return
        if state.bar + home.bars > self._deadline(state, is_home=True):
            return
        spread = taste.spread_cost(g.bars, g.returns, home.bars, state.returns, state.bar)
        self._add(found, state, home, state.position, spread + self.costs.leaving(state, home))

    def _add_peaks(self, state: State, found: list[Move]) -> None:
        """Add the peak, or more of it where it is not deep."""
        g = self.grounds
        if state.phase == WITHIN and not g.summit.is_longest:
            return
        if state.bar < g.opening or (
            state.phase == BEFORE and not g.summit.may_begin(state.bar, g.shortest_peak)
        ):
            return
        deadline = self._deadline(state, is_peak=True)
        if g.summit.pressure > 2:
            deadline = min(deadline, g.close)
        for place, block, _, _ in self._ready_after(state, self.stock.peaks, deadline):
            if self._may_peak(state, block):
                self._add_peak(state, block, place, found)

    def _may_peak(self, state: State, block: Block) -> bool:
        """True where the row would lie well and be bright enough, and its region is warm."""
        g, bar = self.grounds, state.bar
        start = state.row_start if state.phase == WITHIN else bar
        row = bar + block.bars - start
        if not g.summit.may_reach(start, row):
            return False
        if g.summit.is_brightest and block.energy < max(state.brightest, g.home.energy):
            return False
        if not g.summit.is_longest and not g.summit.is_placed(start, row):
            return False
        return self._is_warm(state, block)

    def _is_warm(self, state: State, block: Block) -> bool:
        if block.deep_region < 0:
            return True
        slot = self.grounds.slots[block.deep_region]
        return warm.bars_of(state.warmed, slot) >= self.grounds.warm_need

    def _add_peak(self, state: State, block: Block, place: float, found: list[Move]) -> None:
        """Add the peak; `place` is the cost of the place and of hands that leave."""
        cost = place + self.costs.history(state, block, self._recent_of(state))
        if block.main < 0 and state.phase == BEFORE:
            cost += taste.PEAK_ELSEWHERE
        row, frame = state.row_bars, self.grounds.frame
        cost += taste.peak_cost(frame, row + block.bars)
        if state.phase == WITHIN:
            cost -= taste.peak_cost(frame, row)
        self._append(found, state, block, state.position, cost)

    def _add_turns(self, state: State, deadline: int, found: list[Move]) -> None:
        g = self.grounds
        if state.block.kind not in (Kind.HOME, Kind.OPEN) or state.changes >= g.most_changes:
            return
        for position, block in self.stock.turns.items():
            if position is state.position or position not in self.stock.refrain.positions:
                continue
            if block.energy > self._most_energy(state):
                continue
            if g.opening <= state.bar and state.bar + block.bars <= min(deadline, g.close):
                odd = taste.position_cost(g.frame.brief, position)
                self._add(found, state, block, position, g.turned_cost + odd)

    def _add_open(self, state: State, deadline: int, found: list[Move]) -> None:
        pieces = len(self.stock.open_blocks)
        if state.opens >= pieces or state.block.kind is Kind.OPEN:
            return
        block = self.stock.open_blocks[state.opens]
        if self.grounds.opening <= state.bar and state.bar + block.bars <= deadline:
            cost = taste.open_cost(self.bars, pieces, state.opens, state.bar, block.bars)
            self._add(found, state, block, state.position, cost)

    def _add_close(self, state: State, found: list[Move]) -> None:
        """Add the close, where everything asked for has been done."""
        g, left = self.grounds, self.bars - state.bar
        if not g.closing[0] <= left <= g.closing[1] or state.returns < g.returns:
            return
        if state.opens < len(self.stock.open_blocks) or state.phase == BEFORE:
            return
        if left not in self._closes:
            self._closes[left] = close_blocks(self.stock, left)
        kept = [b for b in self.stock.kept if b.kind is Kind.CLOSE and b.bars == left]
        for block in (*self._closes[left], *kept):
            done = state.keeps | (1 << block.keep if block.keep >= 0 else 0)
            if done != g.all_keeps or not self._is_in_window(state, block):
                continue
            if block.energy > self._most_energy(state):
                continue
            if self._may_follow(state, block) and self.stock.may_lie(block, state.position):
                cost = self.costs.leaving(state, block) + self.costs.history(
                    state, block, self._recent_of(state)
                )
                self._add(found, state, block, state.position, cost)

    def _add_kept(self, state: State, found: list[Move]) -> None:
        """Add what the teacher insists on, where it may start here."""
        g = self.grounds
        for block in self.stock.kept:
            if block.kind not in (Kind.WORK, Kind.PEAK) or state.keeps >> block.keep & 1:
                continue
            end = state.bar + block.bars
            if (
                not self._is_in_window(state, block)
                or not self._may_follow(state, block)
                or not self.stock.may_lie(block, state.position)
                or (state.bar < g.opening and not block.opens)
                or (end > g.close and not block.closes)
                or (block.stretch and not self._may_stretch(state, end))
            ):
                continue
            leaving = self.costs.leaving(state, block)
            if block.kind is Kind.PEAK:
                latest = self._deadline(state, keep=block.keep, is_peak=True)
                is_in_time = g.opening <= state.bar and end <= latest
                if state.phase == BEFORE and is_in_time and self._may_peak(state, block):
                    place = self._place(block, state.bar, state.position)
                    self._add_peak(state, block, leaving + place, found)
            elif self._may_keep_as_work(state, block):
                cost = leaving + self.costs.history(state, block, self._recent_of(state))
                self._add(found, state, block, state.position, cost)

    def _may_stretch(self, state: State, end: int) -> bool:
        g = self.grounds
        return not state.flags & STRETCH and state.bar >= g.first_stretch and end <= g.close

    def _may_keep_as_work(self, state: State, block: Block) -> bool:
        if state.bar + block.bars > self._deadline(state, keep=block.keep):
            return False
        if block.exit_counts == 3 and block.bars >= self._room_at_three(state):
            return False
        if block.energy > self._most_energy(state):
            return False
        return self._is_warm(state, block)

    def _suits_keeps(self, keeps: int, position: Position) -> bool:
        """True where all that is still insisted on can be done in `position`."""
        key = (keeps, position)
        if key not in self._suits:
            self._suits[key] = all(
                any(self.stock.may_lie(b, position) for b in self.stock.kept if b.keep == i)
                for i, _ in enumerate(self.grounds.keep_windows)
                if not keeps >> i & 1
            )
        return self._suits[key]

    def _is_led_to_keep(self, keeps: int, block: Block, position: Position, end: int) -> bool:
        """True where what is insisted on, and due at `end`, can follow `block`."""
        reach = self.grounds.material.reach
        for kept in self.stock.kept:
            window = self.grounds.keep_windows[kept.keep]
            if window is None or keeps >> kept.keep & 1 or not window[0] <= end <= window[1]:
                continue
            if kept.entry_pressure <= block.exit_counts + 1 and self.stock.may_lie(kept, position):
                is_free = block.exit_free or kept.entry_free
                if is_free or reach[block.exit_region][kept.entry_region]:
                    return True
        return False

    def _is_in_window(self, state: State, block: Block) -> bool:
        if block.keep < 0:
            return True
        window = self.grounds.keep_windows[block.keep]
        return window is None or window[0] <= state.bar <= window[1]

    def _add(
        self,
        found: list[Move],
        state: State | None,
        block: Block,
        position: Position,
        cost: float,
    ) -> None:
        """Add a move that is not ordinary work; `cost` is without the place's own."""
        place = self._place(block, state.bar if state else 0, position)
        self._append(found, state, block, position, cost + place)

    def _append(
        self,
        found: list[Move],
        state: State | None,
        block: Block,
        position: Position,
        cost: float,
    ) -> None:
        cost += state.cost if state else 0.0
        self.order += 1
        kept = (state.keeps if state else 0) | (1 << block.keep if block.keep >= 0 else 0)
        is_peak, is_work = block.kind is Kind.PEAK, block.kind is Kind.WORK
        turned = (state.changes if state else 0) + (block.kind is Kind.TURN)
        group: tuple[int, ...] = (
            min(turned, self._wished_turns),
            (state.returns if state else 0) + (block.kind is Kind.HOME),
            is_peak or (state is not None and state.phase != BEFORE),
            (state.opens if state else 0) + (block.kind is Kind.OPEN),
            kept,
            self._suits_keeps(kept, position),
        )
        end = (state.bar if state else 0) + block.bars
        if end in self._due and self._is_led_to_keep(kept, block, position, end):
            group = (*group, 1)
        worked = block.bars if is_peak or is_work else 0
        rank = cost + self.costs.lean(
            (state.main_total if state else 0) + (worked if block.main >= 0 else 0),
            (state.counted if state else 0) + worked,
        )
        if state is not None:
            mains = main_bars(state.main, len(self.grounds.material.mains))
            rank += self.costs.uneven(mains, state.counted, block.main, worked)
        found.append((rank, self.order, cost, state, block, position, group))


def _some_of_each(rated: list[tuple[float, int, Ready]]) -> list[Ready]:
    """Return the first of `rated`, no more than a few of one technique."""
    alike: dict[int, int] = {}
    found: list[Ready] = []
    for _, _, ready in rated:
        technique = ready[1].technique
        if alike.get(technique, 0) < _READY_ALIKE:
            alike[technique] = alike.get(technique, 0) + 1
            found.append(ready)
            if len(found) == _READY_MOST:
                break
    return found
