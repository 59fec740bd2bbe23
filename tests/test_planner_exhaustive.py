"""On tiny repertoires the search finds what trying everything finds.

The trial of everything shares the blocks with the search, but none of its rules: every row of
blocks that fills the bars is made into a routine, scored afresh, and judged by the checker; the
cheapest that passes is the best there is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import count

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Intention, Position
from rondel.planner.attempts import Attempts
from rondel.planner.blocks import Block, Kind
from rondel.planner.constraints import peak
from rondel.planner.contest import Arena, Contest, Setting
from rondel.planner.finish import routine_of
from rondel.planner.refrains import home_cost, home_of
from rondel.planner.score import score
from rondel.planner.stock import Stock, close_blocks, stock_of

#: Tiny repertoires: two base strokes and a hold, a few workers, all to be done lying prone.
_HOME = ("slow-river", "resting-bridge")
_WORK = (
    ("twin-rails", "rope-hands", "bellows"),
    ("snow-slide", "bread-shoulders", "cat-paws"),
    ("sanded-board", "twin-rails", "pond-ripples"),
    ("warm-match", "cloud-line", "two-moons"),
    ("bread-shoulders", "slow-mill", "milk-path"),
    ("twin-rails", "bellows", "milk-path"),
    ("rope-hands", "snow-slide", "two-moons"),
    ("cat-paws", "warm-match", "bellows"),
    ("sanded-board", "twin-rails", "bread-shoulders"),
    ("pond-ripples", "twin-rails", "snow-slide"),
    ("slow-mill", "twin-rails", "warm-match"),
    ("two-moons", "bellows", "sanded-board"),
    ("cloud-line", "cat-paws", "rope-hands"),
)
#: What is tried: every repertoire with every intention, and some with a stroke that is preferred.
_TRIED = (
    *((work, intention, ()) for work in _WORK for intention in Intention),
    *((work, Intention.SETTLE, work[:1]) for work in _WORK[::2]),
)
_WIDE = 100_000  # a beam that drops nothing in so small a space


def tiny(work: tuple[str, ...]) -> Craft:
    craft = builtin_craft()
    wanted = (*_HOME, *work)
    few = tuple(t for t in craft.techniques if t.id in wanted)
    return Craft(techniques=few, regions=craft.regions, cautions=craft.cautions)


def rows(stock: Stock) -> Iterator[tuple[Block, ...]]:
    """Yield every row of blocks that fills the bars, with one return and one peak block."""
    total = stock.frame.bars
    middle = (*stock.work, *stock.peaks, stock.refrain.block)

    def go_on(row: tuple[Block, ...], bars: int) -> Iterator[tuple[Block, ...]]:
        for last in close_blocks(stock, total - bars):
            kinds = [b.kind for b in row]
            if kinds.count(Kind.PEAK) == 1 and kinds.count(Kind.HOME) == 1:
                yield (*row, last)
        for block in middle:
            once = block.kind in (Kind.PEAK, Kind.HOME)
            if once and any(b.kind is block.kind for b in row):
                continue
            if bars + block.bars < total:
                yield from go_on((*row, block), bars + block.bars)

    for first in stock.arrivals:
        yield from go_on((first,), first.bars)


def routine_from(stock: Stock, row: tuple[Block, ...]) -> Routine:
    starts = [sum(b.bars for b in row[:i]) for i in range(len(row))]
    placed = tuple((s, b, Position.PRONE) for s, b in zip(starts, row, strict=True))
    return routine_of(stock.material, stock.frame, placed)


def best_of_all(stock: Stock, craft: Craft) -> tuple[float | None, int]:
    """Return the cost of the best lawful routine, and how many were tried."""
    tried = count()
    rated = []
    for row in rows(stock):
        routine = routine_from(stock, row)
        cost = score(routine, craft, stock.material).total
        rated.append((cost, next(tried), routine))
    for cost, _, routine in sorted(rated, key=lambda entry: entry[:2]):
        findings = check(routine, craft, routine.brief)
        if not any(f.severity is Severity.MUST for f in findings):
            return cost, len(rated)
    return None, len(rated)


@pytest.mark.parametrize(("work", "intention", "prefer"), _TRIED)
def test_the_search_finds_the_best_of_all_and_proves_it(
    work: tuple[str, ...], intention: Intention, prefer: tuple[str, ...]
) -> None:
    craft = tiny(work)
    brief = Brief(
        title="Tiny",
        minutes=Fraction(4),
        intention=intention,
        level=1,
        refrains=1,
        bpm=Fraction(40),  # bars of 6 s: 40 bars
        positions=(Position.PRONE,),
        stretch=False,
        main_regions=("beside_spine",) if "twin-rails" in work else ("shoulders",),
        prefer=prefer,
    )
    attempts = Attempts(brief, craft)
    row = attempts.rows[0]
    summit = peak.summit(attempts.frame, 3)
    stock = thinned(stock_of(attempts.material, attempts.frame, summit, row))
    best, tried = best_of_all(stock, craft)
    setting = Setting(pressure=3, row=0, pieces=1, is_wide=False, is_fine=True)
    contest = Contest(Arena(stock, attempts.frame, None, setting), row, 0.0)
    home = home_cost(attempts.material, attempts.frame, home_of(row, attempts.material))
    found = contest.search(math.inf, _WIDE, is_even=True)
    assert tried > 30
    if best is None:
        assert found.placed is None
        assert found.bound == math.inf
        return
    assert found.cost + home == pytest.approx(best, abs=1e-6)
    assert found.bound == found.cost  # nothing was cast aside
    contest.sharpen(found.cost, 10)
    assert contest.solved.value() <= found.cost + 1e-9  # no bound passes the truth
    narrow = contest.search(math.inf, 12)
    assert narrow.bound <= found.cost + 1e-9
    limit = found.cost + 0.5
    contest.bound = -math.inf
    contest.remember(limit, 10**7)
    assert contest.bound <= found.cost + 1e-9
    again = contest.search(limit, _WIDE, is_even=True)
    assert again.cost == pytest.approx(found.cost, abs=1e-9)
    assert again.bound == again.cost


def thinned(stock: Stock) -> Stock:
    """Return the stock with coarse lengths only, so that everything can be tried."""

    def coarse(blocks: tuple[Block, ...], most: int, lengths: int) -> tuple[Block, ...]:
        groups: dict[object, list[Block]] = {}
        for b in blocks:
            groups.setdefault((b.numbers, b.parts[0].pressure), []).append(b)
        return tuple(b for some in groups.values() for b in some[-lengths:])[:most]

    home = stock.refrain.block.used
    return replace(
        stock,
        arrivals=coarse(stock.arrivals, 3, 1),
        work=coarse(tuple(b for b in stock.work if not b.used & home), 8, 2),
        peaks=coarse(stock.peaks, 4, 2),
    )
