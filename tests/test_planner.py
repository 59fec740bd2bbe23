"""Plans for the built-in craft, judged by the checker, which was written apart from the planner."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.brief import Brief, Keep
from rondel.model.codec.brief import brief_from_dict, brief_to_dict
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome, Severity
from rondel.model.routine import Routine
from rondel.model.words import Contact, Intention, Position, Role
from rondel.planner.attempts import NORMAL, QUICK, Attempts
from rondel.planner.nearness import share_alike
from rondel.planner.others import others
from rondel.planner.plan import finished, plan
from rondel.planner.score import score

SETTLE = Brief(title="Lamplight", minutes=Fraction(15), intention=Intention.SETTLE, level=2)


@cache
def planned(brief: Brief) -> Routine:
    routine = plan(brief, builtin_craft()).routine
    assert routine is not None
    return routine


def musts(routine: Routine) -> list[str]:
    found = check(routine, builtin_craft(), routine.brief)
    return [f"{f.rule}: {f.message}" for f in found if f.severity is Severity.MUST]


@pytest.mark.parametrize("intention", list(Intention))
def test_a_quarter_of_an_hour_is_planned_without_a_broken_rule(intention: Intention) -> None:
    routine = planned(replace(SETTLE, intention=intention))
    assert musts(routine) == []
    assert len(routine.refrains) == 4
    assert routine.clock.total_seconds == pytest.approx(900, abs=0.5)


@pytest.mark.parametrize(("minutes", "level"), [("3", 1), ("4.3", 2), ("37.5", 3)])
def test_short_and_odd_lengths_are_planned(minutes: str, level: int) -> None:
    brief = replace(SETTLE, minutes=Fraction(minutes), level=level)
    routine = planned(brief)
    assert musts(routine) == []
    assert routine.clock.total_seconds == pytest.approx(float(brief.minutes * 60), abs=0.5)


def test_a_fixed_tempo_is_kept_within_one_bar() -> None:
    # 15 minutes at 53 beats a minute are 198.75 bars; 199 bars last 900 s + a quarter bar.
    routine = planned(replace(SETTLE, bpm=Fraction(53)))
    assert (routine.tempo[0].bpm, routine.bars) == (Fraction(53), 199)
    assert musts(routine) == []


def test_a_free_tempo_is_the_plain_one_where_whole_bars_fill_the_time() -> None:
    assert planned(SETTLE).tempo[0].bpm == 60
    assert planned(SETTLE).bars == 225


def test_a_couple_of_level_two_that_wants_to_settle_gets_one_deep_peak() -> None:
    # Pressure 4 is the lay limit of level 2 (rule `limits`), where a region bears it.
    peak = [p for p in planned(SETTLE).passages if p.role is Role.PEAK]
    assert peak
    assert {p.pressure for p in peak} == {4}
    assert max(p.pressure for p in planned(SETTLE).passages if p.role is not Role.PEAK) == 3


def test_beginners_never_go_deep_and_their_peak_is_the_longest_row_at_three() -> None:
    routine = planned(replace(SETTLE, level=1))
    assert max(p.pressure for p in routine.passages) == 3
    assert musts(routine) == []


def test_the_cost_of_the_search_equals_the_score_worked_out_afresh() -> None:
    craft = builtin_craft()
    for brief in (
        replace(SETTLE, open_minutes=Fraction(2)),
        replace(SETTLE, intention=Intention.WAKE, level=4),
        replace(SETTLE, prefer=("snow-slide", "cloud-line")),
        replace(SETTLE, positions=(Position.PRONE, Position.SUPINE), minutes=Fraction(20)),
    ):
        found = Attempts(brief, craft).find(QUICK)
        assert found is not None
        assert found.cost == pytest.approx(score(finished(found, craft), craft).total, abs=1e-6)


def test_the_same_brief_gives_the_same_routine() -> None:
    assert plan(SETTLE, builtin_craft()).routine == planned(SETTLE)


def test_spared_contacts_and_avoided_regions_are_not_used() -> None:
    brief = replace(
        SETTLE, spare=(Contact.THUMB, Contact.FOREARM), avoid_regions=("lower_back", "neck")
    )
    routine = planned(brief)
    assert musts(routine) == []
    craft = builtin_craft()
    used = [craft.technique(p.technique) for p in routine.passages if p.technique]
    assert not {t.contact for t in used} & {Contact.THUMB, Contact.FOREARM}
    assert not {t.region for t in used} & {"lower_back", "neck", "back"}  # the back covers it


def test_what_is_insisted_on_stands_at_its_time() -> None:
    keep = Keep(technique="slow-plough", at_seconds=Fraction(570), minutes=Fraction(1))
    routine = planned(replace(SETTLE, keep=(keep,)))
    kept = next(p for p in routine.passages if p.kept)
    assert kept.technique == "slow-plough"
    assert routine.start_seconds(kept) == pytest.approx(570, abs=4.0)  # one bar at 60 is 4 s
    assert routine.seconds_of(kept) == pytest.approx(60, abs=4.0)
    assert musts(routine) == []


def test_minutes_left_free_are_there() -> None:
    routine = planned(replace(SETTLE, open_minutes=Fraction(3)))
    free = sum(routine.seconds_of(p) for p in routine.passages if p.is_open)
    assert free == pytest.approx(180, abs=4.0)
    assert musts(routine) == []


def test_a_main_region_in_another_position_is_reached_by_turning_over() -> None:
    brief = replace(
        SETTLE,
        minutes=Fraction(30),
        positions=(Position.PRONE, Position.SUPINE),
        main_regions=("chest", "calves"),
    )
    routine = planned(brief)
    assert musts(routine) == []
    assert {p.position for p in routine.passages} <= {Position.PRONE, Position.SUPINE}


def loosened(outcome: Outcome) -> set[str]:
    return {change.wish for entry in outcome.loosen for change in entry.changes}


def test_too_many_returns_are_refused_with_the_sum_and_a_way_out() -> None:
    # 3 minutes, s = 0.5: 8 × 15 s + 7 × 6⅔ s + 7.5 s + 15 s = 189.2 s, which is 3:09.
    brief = replace(SETTLE, minutes=Fraction(3), refrains=8)
    outcome = plan(brief, builtin_craft())
    assert outcome.routine is None
    assert "Eight returns of at least 15 seconds" in outcome.reasons[0]
    assert "need 3:09, but the brief gives 3:00" in outcome.reasons[0]
    assert "refrains" in loosened(outcome)


@pytest.mark.parametrize(
    "brief",
    [
        replace(SETTLE, minutes=Fraction(4), refrains=9),
        replace(SETTLE, keep=(Keep(technique="palm-garden"),), spare=(Contact.THUMB,)),
        replace(SETTLE, main_regions=("face",), positions=(Position.PRONE,)),
        replace(SETTLE, minutes=Fraction(6), open_minutes=Fraction(5)),
    ],
)
def test_every_loosening_gives_a_routine_when_put_into_the_brief(brief: Brief) -> None:
    craft = builtin_craft()
    outcome = plan(brief, craft)
    assert outcome.routine is None
    assert outcome.reasons
    assert outcome.loosen
    for entry in outcome.loosen:
        data = brief_to_dict(brief)
        for change in entry.changes:
            data.pop(change.wish, None)
            if change.to is not None:
                data[change.wish] = change.to
        assert plan(brief_from_dict(data), craft, effort=QUICK).routine is not None, entry


def test_a_caution_that_needs_a_clinician_gives_no_routine_and_nothing_to_loosen() -> None:
    outcome = plan(replace(SETTLE, cautions=("fever",)), builtin_craft())
    assert outcome.routine is None
    assert "clinician" in outcome.reasons[0]
    assert outcome.loosen == ()


def test_cautions_are_never_offered_to_be_loosened() -> None:
    brief = replace(SETTLE, main_regions=("calves",), cautions=("varicose_veins",))
    outcome = plan(brief, builtin_craft())
    assert outcome.routine is None
    assert "cautions" not in loosened(outcome)


def test_an_unknown_region_is_bad_input_with_the_nearest_name() -> None:
    with pytest.raises(BadInput, match=r'main_regions: "sholders".*did you mean "shoulders"'):
        plan(replace(SETTLE, main_regions=("sholders",)), builtin_craft())


def test_other_plans_share_at_most_half_of_the_bars() -> None:
    routine = planned(SETTLE)
    found = others(SETTLE, builtin_craft(), routine, 2)
    assert len(found) == 2
    for other in found:
        assert share_alike(other, routine) <= 0.5
        assert musts(other) == []
    assert share_alike(*found) <= 0.5


def test_a_new_plan_near_an_old_one_changes_less_than_a_fresh_one() -> None:
    craft, old = builtin_craft(), planned(SETTLE)
    brief = replace(SETTLE, spare=(Contact.HEEL,))
    near = plan(brief, craft, near=old).routine
    assert near is not None
    assert musts(near) == []
    assert share_alike(near, old) >= share_alike(planned(brief), old)
    assert share_alike(near, old) > 0.6


def test_a_wider_search_is_not_worse() -> None:
    craft = builtin_craft()
    quick, normal = Attempts(SETTLE, craft).find(QUICK), Attempts(SETTLE, craft).find(NORMAL)
    assert quick is not None
    assert normal is not None
    assert normal.cost <= quick.cost + 1e-9


def test_a_refrain_that_is_wanted_is_the_last_to_go() -> None:
    """It presses at 2: with a peak at 1 it cannot be, and that is no reason to take another while
    there are ways to have it."""
    craft = builtin_craft()
    brief = replace(SETTLE, minutes=Fraction(9), intention=Intention.SLEEP, level=1)
    home = (("slow-river", 2, 5), ("long-scarf", 0, 3))
    asked = [s for some in Attempts(brief, craft, home=home).settings(1) for s in some]
    of_others = [number for number, setting in enumerate(asked) if setting.row != 0]
    assert {s.pressure for s in asked[of_others[0] :]} == {1, 2, 3}
    assert all(s.row == 0 for s in asked[: of_others[0]])
    assert all(s.row != 0 for s in asked[of_others[0] :])
    assert any(s.is_wide and s.is_fine for s in asked[: of_others[0]])
    # Where the peak is asked to be so light, another refrain is what makes it possible.
    first = next(Attempts(brief, craft, home=home, peak=1).settings(1))
    assert [(s.pressure, s.row != 0) for s in first] == [(1, True)]


def test_what_is_insisted_on_above_the_level_may_be_the_only_deep_work() -> None:
    """Nothing within the level goes to 4 here, so it has to be the peak itself."""
    craft = builtin_craft()
    spared = (Contact.HEEL, Contact.FOREARM, Contact.FIST, Contact.PALM)
    brief = replace(
        SETTLE,
        spare=spared,
        avoid_regions=("feet",),
        keep=(Keep(technique="deep-furrow", pressure=4),),
    )
    routine = plan(brief, craft, effort=QUICK).routine
    assert routine is not None
    assert musts(routine) == []
    peak = [p for p in routine.line if p.role is Role.PEAK]
    assert {(p.technique, p.pressure, p.stretch) for p in peak} == {("deep-furrow", 4, True)}


def test_what_is_insisted_on_just_as_the_quiet_opening_ends_can_begin_there() -> None:
    """Bar 27 is the only one: a bar before it the opening goes on, and a bar later is too late."""
    craft = builtin_craft()
    keep = Keep(technique="walnut", at_seconds=Fraction(90))
    brief = Brief(
        title="Walnuts", minutes=Fraction("7.9"), intention=Intention.WAKE, level=4, keep=(keep,)
    )
    routine = plan(brief, craft, effort=QUICK).routine
    assert routine is not None
    assert musts(routine) == []
    assert next(p.start_bar for p in routine.line if p.technique == "walnut") == 27


def test_a_routine_less_near_is_better_than_none() -> None:
    """What stays near this one leads the search astray, while the brief by itself can be planned;
    an edit, which asks for what is near or nothing, is told so."""
    craft = builtin_craft()
    plough = Keep(technique="slow-plough", pressure=4)
    brief = replace(
        SETTLE,
        minutes=Fraction("10.9"),
        level=5,
        avoid_regions=("between_blades",),
        positions=(Position.SUPINE, Position.SEATED),
        open_minutes=Fraction(1, 2),
        keep=(plough,),
    )
    old = plan(brief, craft, effort=QUICK).routine
    nightcap = Keep(technique="nightcap", at_seconds=Fraction(457), pressure=1)
    now = replace(brief, keep=(plough, nightcap))
    assert plan(now, craft, near=old, effort=QUICK, loosen=False).routine is None
    routine = plan(now, craft, near=old, effort=QUICK).routine
    assert routine is not None
    assert musts(routine) == []
    assert routine.proof.bound is None
