"""The planners that Rondel is measured against make sound routines, so that the measure is fair."""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.finding import Severity
from rondel.model.routine import Routine
from rondel.model.words import Contact, Intention
from rondel.planner.score import score

BRIEFS = (
    Brief(title="Fern", minutes=Fraction(15), intention=Intention.SETTLE, level=2),
    Brief(
        title="Quarry",
        minutes=Fraction(10),
        intention=Intention.WAKE,
        level=3,
        spare=(Contact.THUMB,),
        avoid_regions=("neck",),
        main_regions=("thighs",),
    ),
)


@pytest.fixture(scope="module")
def reference() -> Any:
    """Return the package of reference planners, which lies outside the product."""
    sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
    try:
        import reference.greedy
        import reference.slots
    finally:
        sys.path.pop(0)
    return reference


def assert_is_sound(routine: Routine | None, brief: Brief, cost: float) -> None:
    assert routine is not None
    craft = builtin_craft()
    assert [f for f in check(routine, craft, brief) if f.severity is Severity.MUST] == []
    assert score(routine, craft).total == pytest.approx(cost, abs=1e-5)


@pytest.mark.parametrize("brief", BRIEFS, ids=lambda b: b.title)
def test_the_greedy_planner_climbs_to_sound_routines(reference: Any, brief: Brief) -> None:
    found = reference.greedy.plan_greedily(brief, builtin_craft(), seconds=2.0)
    assert_is_sound(found.routine, brief, found.steps[-1].verdict.cost)
    verdicts = [step.verdict for step in found.steps]
    assert verdicts == sorted(verdicts, reverse=True)
    assert found.first_valid() is not None


def test_the_slot_model_is_solved_to_a_sound_routine(reference: Any) -> None:
    brief = BRIEFS[1]
    found = reference.slots.plan_in_slots(brief, builtin_craft(), seconds=40.0)
    assert_is_sound(found.planned.routine, brief, found.planned.steps[-1].verdict.cost)
