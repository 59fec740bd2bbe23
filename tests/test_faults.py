"""One fault in a sound routine, of many kinds and at random places: the checker names its rule.

Sound routines come from the planner, a black box here. Every fault is worked out from the routine
and from the statements of the rules (`faults`), never by asking the checker. Other findings may
come with it: who leaves out a rest may leave the pair uneven as well.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from faults import FAULTS
from faults.pieces import Fault, Sound
from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import breaches, check, is_lawful
from rondel.model.brief import Brief, Keep
from rondel.model.finding import Finding, Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Contact, Family, Intention, Position, Trace
from rondel.planner.attempts import QUICK
from rondel.planner.plan import plan
from rondel.rules.book import COMPOSED_RULES

THROWS = 4  # places tried in every routine
LEAST = 4  # times that every kind must have been put in, at least


def _brief(minutes: float, intention: str, level: int, **wishes: object) -> Brief:
    return Brief(
        title=f"{intention.capitalize()} {minutes:g}",
        minutes=Fraction(str(minutes)),
        intention=Intention(intention),
        level=level,
        **wishes,  # type: ignore[arg-type]
    )


def _plough(at: int, pressure: int) -> Keep:
    return Keep(technique="slow-plough", at_seconds=Fraction(at), pressure=pressure)


BRIEFS = (
    _brief(15, "settle", 2, main_regions=("shoulders", "beside_spine"), refrains=4),
    _brief(12, "wake", 3, spare=(Contact.THUMB, Contact.FIST), stretch=False),
    _brief(10, "sleep", 1, avoid_regions=("lower_back",), main_regions=("shoulders",)),
    _brief(10, "closeness", 2, cautions=("varicose_veins",), open_minutes=Fraction(1)),
    _brief(
        8,
        "settle",
        2,
        positions=(Position.SEATED,),
        bpm=Fraction(60),
        main_regions=("shoulders",),
    ),
    _brief(20, "settle", 4, main_regions=("hips",), spare=(Contact.KNUCKLES,)),
    _brief(30, "wake", 5, trained=True, refrains=6),
    _brief(12, "closeness", 2, cautions=("pregnancy",), refrains=3),
    _brief(25, "settle", 3, positions=(Position.PRONE, Position.SUPINE)),
    _brief(4, "sleep", 1, refrains=1),
    _brief(15, "settle", 2, cautions=("cancer",), open_minutes=Fraction(2)),
    _brief(15, "wake", 2, keep=(_plough(560, 3),), avoid_regions=("feet", "face")),
    _brief(18, "closeness", 3, keep=(Keep(technique="heron-wing", pressure=2),)),
    _brief(24, "sleep", 2, cautions=("heart",), spare=(Contact.PALM,)),
    _brief(9.5, "wake", 1, avoid_regions=("scalp", "blades"), cautions=("low_blood_pressure",)),
    _brief(16, "settle", 5, keep=(Keep(technique="shawl-hand", at_seconds=Fraction(300)),)),
    _brief(18, "settle", 3, keep=(Keep(technique="slow-plough", pressure=4),)),
    _brief(14, "wake", 2, main_regions=("shoulders", "blades"), refrains=4),
)


@cache
def craft() -> Craft:
    """Return the built-in craft and one technique that a careless teacher might have added."""
    own = builtin_craft()
    like = next(t for t in own.techniques if t.family is Family.PERCUSSION and not t.lateral)
    drum = replace(
        like, id="neck-drum", plain="Neck drum", region="neck", trace=Trace.SPOT, level=1
    )
    return replace(own, techniques=(*own.techniques, drum))


@cache
def routine_of(number: int) -> Routine:
    """Return the planned routine of brief `number`."""
    routine = plan(BRIEFS[number], builtin_craft(), effort=QUICK).routine
    assert routine is not None, BRIEFS[number]
    return routine


def sound(number: int, throw: int) -> Sound:
    return Sound(routine=routine_of(number), craft=craft(), dice=random.Random(throw))


def found(routine: Routine) -> list[Finding]:
    return list(check(routine, craft()))


@cache
def strained(number: int) -> frozenset[str]:
    """Return the rules that routine `number` strains before anything is done to it."""
    return frozenset(f.rule for f in found(routine_of(number)))


@pytest.mark.parametrize("number", range(len(BRIEFS)))
def test_a_planned_routine_breaks_no_rule(number: int) -> None:
    broken = [f for f in found(routine_of(number)) if f.severity is Severity.MUST]
    assert broken == []


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f"{f.rule}: {f.name}")
def test_a_fault_is_found_wherever_it_is(fault: Fault) -> None:
    put = 0
    for number in range(len(BRIEFS)):
        if fault.rule in strained(number):
            continue
        for throw in range(THROWS):
            spoilt = fault.put(sound(number, throw))
            if spoilt is None:
                continue
            put += 1
            rules = Counter(f.rule for f in found(spoilt))
            musts = sorted(f.message for f in found(spoilt) if f.severity is Severity.MUST)
            assert sorted(f.message for f in breaches(spoilt, craft())) == musts
            assert is_lawful(spoilt, craft()) is not bool(musts)
            assert rules[fault.rule], (BRIEFS[number].title, throw, dict(rules))
    assert put >= LEAST


@settings(max_examples=400, derandomize=True, deadline=None)
@given(
    fault=st.sampled_from(FAULTS),
    number=st.integers(0, len(BRIEFS) - 1),
    throw=st.integers(0, 2**32),
)
def test_any_fault_anywhere_is_found(fault: Fault, number: int, throw: int) -> None:
    assume(fault.rule not in strained(number))
    spoilt = fault.put(sound(number, throw))
    assume(spoilt is not None)
    assert spoilt is not None
    assert fault.rule in {f.rule for f in found(spoilt)}


def test_every_rule_has_a_kind_of_fault() -> None:
    assert {f.rule for f in FAULTS} == {r.id for r in COMPOSED_RULES}
    assert len({(f.rule, f.name) for f in FAULTS}) == len(FAULTS)
