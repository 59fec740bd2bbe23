"""What a block costs where it stands, for what came before it, and what a plan leaves undone."""

from __future__ import annotations

from collections.abc import Callable

from rondel.model.words import Position
from rondel.planner import taste
from rondel.planner.blocks import Block, Kind, curve_cost
from rondel.planner.constraints import (
    contact_kept,
    filler,
    focus,
    repeat,
    rhythm,
    small_areas,
    vary,
)
from rondel.planner.curves import shape_of
from rondel.planner.grounds import Grounds
from rondel.planner.state import FILLER, RHYTHM, STRETCH, State, main_bars

#: An extra cost of a block at a bar, for staying near a plan or away from one.
Extra = Callable[[Block, int, Position], float]

#: Earlier uses of techniques and of regions, and techniques that have come too often.
Recent = tuple[dict[int, int], dict[int, int], set[int]]

_UNEVEN = 32.0  # the same for the part of each main region
_LEAN = 12.0  # forecast of `focus`, a little above its weight so that it is not put off


class Costs:
    """The costs of one search. Costs of places are remembered; all else is a few additions."""

    def __init__(self, grounds: Grounds, extra: Extra | None) -> None:
        self.grounds, self.extra = grounds, extra
        frame = grounds.frame
        self.bar_minutes = float(frame.bar_seconds / 60)
        self.shape = shape_of(grounds.intention, frame.bars)
        self.vary_window = frame.at_most(vary.WINDOW_SECONDS)
        self.mains = grounds.material.mains
        self.lean_rate = _LEAN / grounds.worked
        self.uneven_rate = _UNEVEN / grounds.worked

    def place(self, block: Block, bar: int, position: Position) -> float:
        """Return what `block` costs at `bar`, whatever came before."""
        total = block.flat_cost
        if block.stretches:
            total += curve_cost(block, self.shape, bar, self.bar_minutes)
        if self.extra is not None:
            total += self.extra(block, bar, position)
        return total

    def leaving(self, state: State, block: Block) -> float:
        """Return what it costs that no hand stays on the body."""
        if state.region < 0 or block.entry_region < 0 or block.kind is Kind.TURN:
            return 0.0
        stays = self.grounds.material.stays[state.region][block.entry_region]
        return 0.0 if stays else contact_kept.COST

    def recent(self, state: State) -> Recent:
        """Return how often techniques and regions came in the last half hour before the end of
        `state`, and which techniques have come too often to return now."""
        grounds = self.grounds
        since, too_often_since = state.bar - self.vary_window, state.bar - grounds.window
        techniques: dict[int, int] = {}
        lately: dict[int, int] = {}
        regions: dict[int, int] = {}
        at: State | None = state
        while at is not None and at.start >= since:
            block = at.block
            if block.is_own:
                regions[block.entry_region] = regions.get(block.entry_region, 0) + 1
                for number in block.numbers:
                    techniques[number] = techniques.get(number, 0) + 1
                    if at.start >= too_often_since:
                        lately[number] = lately.get(number, 0) + 1
            at = at.parent
        often = {number for number, count in lately.items() if repeat.is_too_often(count)}
        return techniques, regions, often

    def history(self, state: State, block: Block, recent: Recent) -> float:
        """Return what `block` costs for what was there before: repeats, sameness, small areas."""
        techniques, regions, often = recent
        total = 0.0
        if block.used & state.used_last:
            total += repeat.AT_ONCE
        if block.contact == state.contact:
            total += vary.CONTACT
        if block.family == state.family:
            total += vary.FAMILY
        for number in block.numbers:
            if number in techniques:
                total += vary.AGAIN * techniques[number]
                if number in often:
                    total += repeat.TOO_OFTEN
        if block.entry_region in regions:
            is_main = block.entry_region in self.mains
            total += vary.place_again(regions[block.entry_region], is_main)
        if block.small and not block.small & state.wide:
            total += small_areas.COST
        return total

    def lean(self, main_total: int, counted: int) -> float:
        """Return a forecast of the cost of `focus`, so that the beam does not put it off."""
        short = 0.5 * counted - main_total
        return self.lean_rate * short if short > 0 else 0.0

    def uneven(self, mains: list[int], counted: int, main: int, bars: int) -> float:
        """Return a forecast of what `focus` costs for main regions that wait for their part, when
        `bars` on main region number `main` (-1: elsewhere) follow `mains`."""
        part = 0.25 * (counted + bars) / max(1, len(mains))
        short = 0.0
        for i, there in enumerate(mains):
            waits = part - there - (bars if i == main else 0)
            if waits > 0:
                short += waits
        return self.uneven_rate * short

    def final(self, state: State) -> float:
        """Return the cost of the whole plan, with what it leaves undone."""
        grounds = self.grounds
        total = state.cost
        total += focus.cost(main_bars(state.main, len(grounds.material.mains)), state.counted)
        total += taste.unturned_cost(grounds.frame.brief, state.changes)
        if rhythm.is_asked(grounds.intention) and not state.flags & RHYTHM:
            total += rhythm.COST
        if not state.flags & FILLER:
            total += filler.COST
        if grounds.material.may_stretch and not state.flags & STRETCH:
            total += taste.NO_STRETCH
        return total
