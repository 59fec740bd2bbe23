"""A routine to change, and what the checks of changes ask of it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

from planner_briefs import random_brief
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import demo_brief
from rondel.app.change_plan import Changed, change_plan
from rondel.app.make_plan import make_plan
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.finding import Severity
from rondel.model.routine import Passage, Routine
from rondel.model.words import Role, Side
from rondel.planner.edits import (
    Edit,
)

CRAFT = builtin_craft()


@cache
def lamplight() -> Routine:
    return planned(demo_brief())


def planned(brief: Brief) -> Routine:
    routine = make_plan(brief, CRAFT).routine
    assert routine is not None
    return routine


def brief_of_seed(seed: int) -> Brief:
    """A random brief of fifteen minutes."""
    return replace(random_brief(seed, CRAFT), minutes=Fraction(15), open_minutes=Fraction(0))


def broken(routine: Routine) -> list[str]:
    return [f.message for f in check(routine, CRAFT) if f.severity is Severity.MUST]


def changed(edit: Edit, routine: Routine | None = None) -> tuple[Routine, Changed]:
    """Make an edit that can be made."""
    answer = change_plan(routine or lamplight(), edit, CRAFT)
    new = answer.outcome.routine
    assert new is not None, answer.outcome.reasons
    assert broken(new) == []
    return new, answer


def refused(edit: Edit, routine: Routine | None = None) -> str:
    answer = change_plan(routine or lamplight(), edit, CRAFT)
    assert answer.outcome.routine is None
    assert answer.moved == ()
    return " ".join(answer.outcome.reasons)


def work(routine: Routine, *, lateral: bool) -> Passage:
    """The first passage of the longest work after the opening, on both sides or one."""
    able = [
        p
        for p in routine.line
        if p.role is Role.WORK
        and p.side.is_one_sided is lateral
        and p.side is not Side.RIGHT
        and routine.start_seconds(p) >= 90
    ]
    return max(able, key=lambda p: (p.bars, -p.start_bar))


def named(routine: Routine, technique: str | None, near: Passage) -> Passage:
    """What is done of `technique` nearest to where `near` starts."""
    return min(
        (p for p in routine.line if p.technique == technique),
        key=lambda p: abs(p.start_bar - near.start_bar),
    )


def done(routine: Routine) -> list[tuple[object, ...]]:
    return [(p.technique, p.side, p.pressure) for p in routine.line for _ in range(p.bars)]
