"""Planner and checker, written apart, agree: what is planned meets no must-finding.

The planner is a black box here. The briefs are few and short; the long run over random briefs is a
benchmark.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.words import Contact, Intention, Position, Role
from rondel.planner.plan import plan

BRIEFS = {
    "three minutes": Brief(
        title="Dusk", minutes=Fraction(3), intention=Intention.SLEEP, level=1, refrains=1
    ),
    "six minutes to wake, thumbs spared": Brief(
        title="Lark",
        minutes=Fraction(6),
        intention=Intention.WAKE,
        level=3,
        spare=(Contact.THUMB,),
        stretch=False,
    ),
    "eight minutes seated, at a fixed tempo": Brief(
        title="Bench",
        minutes=Fraction(8),
        intention=Intention.SETTLE,
        level=2,
        positions=(Position.SEATED,),
        bpm=Fraction(60),
    ),
    "ten minutes with a caution and time left free": Brief(
        title="Harbour",
        minutes=Fraction(10),
        intention=Intention.CLOSENESS,
        level=2,
        cautions=("varicose_veins",),
        open_minutes=Fraction(1),
    ),
}


@pytest.mark.parametrize("name", BRIEFS)
def test_a_planned_routine_meets_no_must_finding(name: str) -> None:
    brief, craft = BRIEFS[name], builtin_craft()
    routine = plan(brief, craft).routine
    assert routine is not None
    assert [f.message for f in check(routine, craft, brief) if f.severity == "must"] == []


def test_a_planned_routine_spoilt_by_hand_is_found_out() -> None:
    """So that the agreement above is not silence."""
    brief, craft = BRIEFS["six minutes to wake, thumbs spared"], builtin_craft()
    routine = plan(brief, craft).routine
    assert routine is not None
    first, *rest = routine.passages
    pressed = replace(routine, passages=(replace(first, pressure=5), *rest))
    assert {"opening", "peak"} <= {f.rule for f in check(pressed, craft, brief)}
    homeless = replace(
        routine,
        passages=tuple(
            replace(p, role=Role.WORK) if p.role is Role.REFRAIN else p for p in routine.passages
        ),
    )
    assert "refrain_same" in {f.rule for f in check(homeless, craft, brief)}
    shorter = replace(brief, minutes=Fraction(5))
    assert "length" in {f.rule for f in check(routine, craft, shorter)}
