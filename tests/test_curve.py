"""The curves of the rule book, and what the checker says of plans held against them."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.routine import Routine
from rondel.model.words import Family, Intention
from rondel.planner.attempts import QUICK
from rondel.planner.curves import value_at
from rondel.planner.plan import plan
from rondel.rules.curve import CLOSENESS_COUNTS, ENDINGS, ENERGY, PRESSURE, RULE, Points

#: A still hold is the lightest there is, and 4 the firmest of a lay hand (Walton, secondary).
LIGHTEST, FIRMEST = 1, 4


def values(points: Points) -> list[float]:
    return [value for _, value in points]


@pytest.mark.parametrize("points", [*PRESSURE.values(), *ENERGY.values()])
def test_a_curve_runs_from_start_to_end_and_never_back(points: Points) -> None:
    shares = [share for share, _ in points]
    assert (shares[0], shares[-1]) == (0, 1)
    assert all(one < other for one, other in pairwise(shares))


def test_every_intention_has_curves_that_can_be_met() -> None:
    for intention in Intention:
        assert all(LIGHTEST <= v <= FIRMEST for v in values(PRESSURE[intention]))
        assert all(-1 <= v <= 1 for v in values(ENERGY[intention]))
        assert CLOSENESS_COUNTS[intention] >= 0


def test_every_curve_of_pressure_has_one_summit_where_the_peak_may_lie() -> None:
    """The rule `peak` puts it between 55 and 85 percent."""
    for points in PRESSURE.values():
        top = max(points, key=lambda point: point[1])
        assert 0.55 <= top[0] <= 0.85
        rising = [one < other for one, other in pairwise(values(points)) if one != other]
        assert rising == sorted(rising, reverse=True)


def test_the_curves_are_what_each_intention_is_for() -> None:
    """Common practice, no source: settle a dome, wake rises, sleep falls, closeness stays soft."""
    settle, wake = values(ENERGY[Intention.SETTLE]), values(ENERGY[Intention.WAKE])
    sleep = values(ENERGY[Intention.SLEEP])
    assert PRESSURE[Intention.SETTLE][0][1] == PRESSURE[Intention.SETTLE][-1][1] == LIGHTEST
    assert settle[0] < max(settle) > settle[-1]
    assert wake == sorted(wake)
    assert sleep == sorted(sleep, reverse=True)
    assert PRESSURE[Intention.SLEEP][-1][1] == PRESSURE[Intention.SLEEP][-2][1] == LIGHTEST
    assert max(values(PRESSURE[Intention.CLOSENESS])) < max(values(PRESSURE[Intention.SETTLE]))
    assert max(CLOSENESS_COUNTS, key=lambda i: CLOSENESS_COUNTS[i]) is Intention.CLOSENESS


def test_endings_are_soft_closes() -> None:
    """The rule `close` allows a hold, a glide or an embrace last."""
    soft = {Family.HOLDING, Family.EMBRACE, Family.GLIDING}
    for intention in Intention:
        assert set(ENDINGS[intention].families) <= soft
    assert ENDINGS[Intention.SLEEP].families == (Family.HOLDING, Family.EMBRACE)
    assert ENDINGS[Intention.CLOSENESS].families == (Family.EMBRACE, Family.HOLDING)
    assert ENDINGS[Intention.WAKE].families == (Family.GLIDING,)
    assert ENDINGS[Intention.SETTLE].families == ()


@pytest.mark.parametrize("intention", Intention)
def test_the_repertoire_has_an_ending_for_every_intention(intention: Intention) -> None:
    ending = ENDINGS[intention]
    fits = [
        t
        for t in builtin_craft().techniques
        if (not ending.families or t.family in ending.families)
        and t.energy >= ending.min_energy
        and t.pressure[0] <= 2
        and t.level == 1
    ]
    assert fits


def test_the_curves_are_told_in_words() -> None:
    told = "\n".join(RULE.details)
    assert "To settle, pressure: 1.0 at the start, 1.8 at 15%, 2.8 at 50%, 3.6 at 67%" in told
    assert "To sleep, the last passage: a hold or an embrace." in told
    assert "To wake, the last passage: a lively glide." in told
    assert "To settle, the last passage: any soft close." in told
    assert "no nearer costs 0.5 times the weight" in told


def curve_findings(routine: Routine, brief: Brief) -> list[str]:
    found = check(routine, builtin_craft(), brief)
    return [f.message for f in found if f.rule == "curve"]


def reversed_in_time(routine: Routine) -> Routine:
    """Return the routine from its last passage to its first."""
    turned = [replace(p, start_bar=routine.bars - p.end_bar) for p in routine.passages]
    return replace(routine, passages=tuple(sorted(turned, key=lambda p: p.start_bar)))


def test_a_plan_is_near_its_curve_and_far_from_it_backwards() -> None:
    brief = Brief(title="Lark", minutes=Fraction(12), intention=Intention.WAKE, level=2)
    routine = plan(brief, builtin_craft(), effort=QUICK).routine
    assert routine is not None
    assert curve_findings(routine, brief) == []
    (told,) = [m for m in curve_findings(reversed_in_time(routine), brief) if "energy" in m]
    assert "livelier" in told


def test_a_plan_to_wake_is_no_plan_to_sleep() -> None:
    brief = Brief(title="Lark", minutes=Fraction(12), intention=Intention.WAKE, level=2)
    routine = plan(brief, builtin_craft(), effort=QUICK).routine
    assert routine is not None
    told = curve_findings(routine, replace(brief, intention=Intention.SLEEP))
    assert any("choose calmer work" in message for message in told)
    assert any("a hold or an embrace is wished at the end" in message for message in told)


def test_the_planner_s_curve_is_straight_between_the_points() -> None:
    """By hand: halfway from (0.15, 1.8) to (0.5, 2.8) is (0.325, 2.3)."""
    assert value_at(PRESSURE[Intention.SETTLE], 0.325) == pytest.approx(2.3)
