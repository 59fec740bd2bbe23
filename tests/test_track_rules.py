"""The rules of a track: planner and checker read the same cases alike, and no fault goes unseen."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest

from cases.reading import RuleCase, cases_of, small_craft
from faults.pieces import Fault, Sound
from faults.track import KINDS
from heard_tracks import ambient, brief_of
from rondel.adapters.craft_files import builtin_craft
from rondel.app.set_track import set_track
from rondel.checker.check import check
from rondel.model.finding import Severity
from rondel.model.routine import Routine
from rondel.model.track import Course, Laid
from rondel.planner.attempts import QUICK
from rondel.planner.constraints import audible, ending, home, phrase, quiet, summit, turns
from rondel.planner.frame import frame_of
from rondel.planner.plan import plan
from rondel.planner.track_costs import TrackCosts, counts, peak_row
from rondel.rules.book import BY_ID, RULES

TRACK_RULES = [r.id for r in RULES if r.with_track]
THROWS, LEAST = 4, 4

#: (seed, seconds of the track, minutes, intention)
ROUTINES = (
    (1, 300, 5, "settle"),
    (5, 420, 8, "wake"),
    (9, 500, 6, "settle"),
    (12, 330, 5, "sleep"),
    (17, 300, 5, "wake"),
)


# ---- the same cases for planner and checker -----------------------------------------------------


def _laid(case: RuleCase, course: Course) -> Laid:
    brief = case.brief
    assert brief is not None
    return Laid(
        minutes=brief.minutes,
        beats_per_bar=case.routine.beats_per_bar,
        beat_seconds=case.routine.music.beat_seconds,
        course=course,
    )


def _broken(case: RuleCase) -> set[int]:
    """Return the bars at which the planner's constraint of the case's rule is broken."""
    routine, course, craft = case.routine, case.routine.music.course, small_craft()
    if course is None:
        return set()
    line, laid = routine.line, _laid(case, course)
    assert case.brief is not None
    frame = frame_of(replace(case.brief, laid=laid))
    if case.rule == "phrase":
        starts = [p.start_bar for i, p in enumerate(line) if counts(line, i)]
        return {bar for bar in starts if bar not in course.phrases}
    if case.rule == "audible":
        worked = [p for p in routine.passages if p.technique and craft.has_technique(p.technique)]
        return {
            p.start_bar
            for p in worked
            if audible.asks_beat(craft.technique(p.technique or ""))
            and not audible.is_heard(p.start_bar, p.end_bar, course)
        }
    if case.rule == "home":
        starts = [row[0].start_bar for row in routine.refrains]
        return {bar for bar in starts if not home.is_home(bar, course.homes)}
    if case.rule == "summit":
        row = peak_row(routine)
        is_met = summit.is_met(row[0].start_bar, row[-1].end_bar, laid)
        return set() if is_met else {row[0].start_bar}
    if case.rule == "turns":
        changes = [*(p.start_bar for p in line), routine.bars]
        return {turn for turn in course.turns if turns.missed(turn, changes)}
    if case.rule == "quiet":
        return set() if quiet.is_met(frame, laid) else {course.quiet_bars}
    return set() if ending.is_met(frame, laid) else {routine.bars - 1}


@pytest.mark.parametrize(
    "case", [c for rule in TRACK_RULES for c in cases_of(rule)], ids=lambda c: f"{c.rule}: {c.name}"
)
def test_the_planner_reads_a_case_as_the_checker_does(case: RuleCase) -> None:
    found = [f for f in check(case.routine, small_craft(), case.brief) if f.rule == case.rule]
    assert _broken(case) == {f.at_bar for f in found}


def test_what_a_wish_costs_is_a_share_of_its_weight() -> None:
    assert pytest.approx(0.1 * BY_ID["phrase"].weight) == phrase.COST
    assert pytest.approx(0.25 * BY_ID["home"].weight) == home.COST
    assert pytest.approx(0.2 * BY_ID["turns"].weight) == turns.COST


def test_the_wishes_of_a_track_cost_what_was_worked_out_by_hand() -> None:
    """A passage off its phrase costs 0.3, a change of the track that is missed 0.6."""
    phrases = next(c for c in cases_of("phrase") if c.kind == "fail").routine
    course = phrases.music.course
    assert course is not None
    laid = Laid(
        minutes=Fraction(6),
        beats_per_bar=4,
        beat_seconds=phrases.music.beat_seconds,
        course=replace(course, turns=(5, 20)),
    )
    costs = TrackCosts(laid, small_craft().settings)
    # starts 0, 9, 18 and 27 on phrases 0, 8, 12 and 20: three are off; the turn at 5 is missed.
    assert costs.of_routine(phrases, small_craft()) == pytest.approx(3 * 0.3 + 2 * 0.6)
    laid = replace(laid, course=replace(course, turns=(5, 19)))
    costs = TrackCosts(laid, small_craft().settings)
    assert costs.of_routine(phrases, small_craft()) == pytest.approx(3 * 0.3 + 0.6)


# ---- faults -------------------------------------------------------------------------------------


@cache
def routine_on(number: int) -> Routine:
    """Return the routine of `ROUTINES[number]`, planned to a track that was heard rightly."""
    seed, seconds, minutes, intention = ROUTINES[number]
    brief = set_track(brief_of(minutes, intention), ambient(seed, seconds))
    routine = plan(brief, builtin_craft(), effort=QUICK, loosen=False).routine
    assert routine is not None
    return routine


@pytest.mark.parametrize("number", range(len(ROUTINES)))
def test_a_routine_planned_to_a_track_breaks_no_rule(number: int) -> None:
    routine = routine_on(number)
    found = check(routine, builtin_craft())
    assert [f for f in found if f.severity is Severity.MUST] == []


@pytest.mark.parametrize("fault", KINDS.all, ids=lambda f: f"{f.rule}: {f.name}")
def test_a_fault_of_a_track_is_found_wherever_it_is(fault: Fault) -> None:
    craft, put = builtin_craft(), 0
    for number in range(len(ROUTINES)):
        before = Counter(f.rule for f in check(routine_on(number), craft))
        for throw in range(THROWS):
            dice = random.Random(throw)
            spoilt = fault.put(Sound(routine=routine_on(number), craft=craft, dice=dice))
            if spoilt is None:
                continue
            put += 1
            found = [f for f in check(spoilt, craft) if f.rule == fault.rule]
            fewer = before[fault.rule] if fault.rule == "phrase" else 0
            assert len(found) > fewer, (number, throw)
    assert put >= LEAST


def test_every_rule_of_a_track_has_a_kind_of_fault() -> None:
    assert {f.rule for f in KINDS.all} == set(TRACK_RULES)


def test_a_routine_without_a_course_is_held_to_no_rule_of_a_track() -> None:
    routine = routine_on(0)
    bare = replace(routine, music=replace(routine.music, course=None))
    assert not {f.rule for f in check(bare, builtin_craft())} & set(TRACK_RULES)
