"""Names never meet on pages of planned routines, of every length and intention."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

import page_samples as samples
from page_reading import collisions, read, strays
from rondel.adapters.craft_files import builtin_craft
from rondel.drawing.page import draw_page
from rondel.model.words import Intention, NamesShown
from rondel.planner.attempts import QUICK
from rondel.planner.plan import plan

MARGIN = 14.0  # points, about 5 mm: what a home printer cannot reach

PLANNED = [
    (minutes, intention)
    for intention in Intention
    for minutes in (3, 5, 10, 15, 30, 60, *([120] if intention is Intention.SETTLE else []))
]


@pytest.mark.parametrize(("minutes", "intention"), PLANNED)
def test_nothing_meets_on_a_planned_routine(minutes: int, intention: Intention) -> None:
    names = list(NamesShown)[minutes % 3]
    brief = replace(
        samples.BRIEF, minutes=Fraction(minutes), intention=intention, level=3, names=names
    )
    craft = builtin_craft()
    routine = plan(brief, craft, effort=QUICK).routine
    assert routine is not None
    for svg in draw_page(routine, craft).sheets:
        drawn = read(svg)
        assert collisions(drawn) == []
        assert strays(drawn, MARGIN) == []
