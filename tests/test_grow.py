"""A couple has learned a technique: it comes in, and all else stays as it was.

The checker, written apart from the planner, says whether what comes out keeps every rule.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from planner_briefs import random_brief
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import demo_brief, read_routine, write_routine
from rondel.app.grow_plan import grow_plan
from rondel.checker.check import check
from rondel.cli.main import main
from rondel.model.brief import Brief, Keep
from rondel.model.codec.routine import routine_to_dict
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome, Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.planner import swaps
from rondel.planner.attempts import QUICK
from rondel.planner.frame import frame_of
from rondel.planner.grow import Grown
from rondel.planner.plan import plan
from rondel.rules.limits import LEVEL_LIMITS, TRAINED_LEVEL_LIMITS

CRAFT = builtin_craft()
DEMO = demo_brief()  # level 2, thumbs spared, half a minute left free


@cache
def planned(brief: Brief, *unknown: str) -> Routine:
    """Return a plan for `brief` by hands that do not know the techniques `unknown`."""
    fewer = tuple(t for t in CRAFT.techniques if t.id not in unknown)
    routine = plan(brief, replace(CRAFT, techniques=fewer), effort=QUICK).routine
    assert routine is not None
    return routine


def grown(*learned: str, brief: Brief = DEMO, craft: Craft = CRAFT) -> Grown:
    """Return a routine in which nothing of `learned` was, with all of it brought in."""
    return grow_plan(planned(brief, *learned), craft, learned, at="routine.json")


def whole(found: Grown) -> Routine:
    assert found.outcome.routine is not None, found.outcome.reasons
    return found.outcome.routine


def musts(routine: Routine) -> list[str]:
    return [f.message for f in check(routine, CRAFT) if f.severity is Severity.MUST]


def done(passage: Passage) -> tuple[object, ...]:
    return (
        passage.technique,
        passage.side,
        passage.pressure,
        passage.start_bar,
        passage.bars,
        passage.role,
    )


def returns(routine: Routine) -> list[list[tuple[object, ...]]]:
    return [[done(p) for p in row] for row in routine.refrains]


def differing(old: Routine, new: Routine) -> tuple[list[Passage], list[Passage]]:
    """Return the passages of each that the other has not."""
    was, now = {done(p) for p in old.line}, {done(p) for p in new.line}
    return (
        [p for p in old.line if done(p) not in now],
        [p for p in new.line if done(p) not in was],
    )


def test_time_left_free_is_filled_first_and_every_other_passage_stays() -> None:
    old = planned(DEMO, "zip-stitch")
    new = whole(grown("zip-stitch"))
    gone, come = differing(old, new)
    assert [p.role for p in gone] == [Role.OPEN]
    assert [(p.technique, p.kept) for p in come] == [("zip-stitch", True)]
    assert (come[0].start_bar, come[0].bars) == (gone[0].start_bar, gone[0].bars)
    assert musts(new) == []
    assert new.brief is not None
    assert new.brief.open_minutes == 0
    assert new.brief.level == 3
    assert Keep(technique="zip-stitch") in new.brief.keep
    assert come[0].why[0].startswith("Learned by now")


def test_of_much_free_time_only_a_part_is_filled() -> None:
    brief = replace(DEMO, open_minutes=Fraction(3))
    new = whole(grown("harp-maker", brief=brief))
    free = sum(new.seconds_of(p) for p in new.line if p.is_open)
    assert new.brief is not None
    assert 0 < new.brief.open_minutes < 3
    assert free == pytest.approx(float(new.brief.open_minutes * 60), abs=4.0)  # a bar
    assert musts(new) == []


def test_without_free_time_it_replaces_a_passage_and_the_rest_is_left_alone() -> None:
    brief = replace(DEMO, open_minutes=Fraction(0))
    old = planned(brief, "deep-furrow")
    new = whole(grown("deep-furrow", brief=brief))
    gone, come = differing(old, new)
    assert {p.technique for p in come} == {"deep-furrow"}
    assert {p.start_bar for p in gone} >= {come[0].start_bar}
    assert sum(p.bars for p in gone) == sum(p.bars for p in come)
    assert returns(new) == returns(old)
    assert musts(new) == []


def test_several_come_in_and_none_drives_out_another() -> None:
    new = whole(grown("bread-shoulders", "hay-rake", "two-moons"))
    used = {p.technique for p in new.line}
    assert {"bread-shoulders", "hay-rake", "two-moons"} <= used
    assert musts(new) == []


def test_the_stretch_passage_becomes_theirs() -> None:
    brief = replace(DEMO, keep=(Keep(technique="deep-furrow"),))
    old = planned(brief)
    assert any(p.stretch for p in old.line)
    found = grow_plan(old, CRAFT, ["deep-furrow"], at="routine.json")
    new = whole(found)
    assert not any(p.stretch for p in new.line)
    assert [done(p) for p in new.line] == [done(p) for p in old.line]
    assert any("no longer the stretch passage" in says for says in found.says)
    assert new.brief is not None
    assert len([k for k in new.brief.keep if k.technique == "deep-furrow"]) == 1
    assert musts(new) == []


def test_pressure_stays_within_what_the_old_level_allowed() -> None:
    # Level 1 presses at 3 at most, level 2 at 4 (rule `limits`); Anchor Lean goes up to 4.
    found = grown("anchor-lean", brief=replace(DEMO, level=1))
    new = whole(found)
    assert new.brief is not None
    assert new.brief.level == 2
    assert max(p.pressure for p in new.line) <= 3
    assert any("no passage presses deeper than 3" in says for says in found.says)


@pytest.mark.parametrize(
    ("learned", "brief", "says"),
    [
        ("snail-trail", DEMO, "it uses the thumb, which you spare"),
        ("spider-waltz", DEMO, "too far for one technique alone"),
        ("turning-leaf", DEMO, "only helps the receiver turn over"),
        ("brow-feather", DEMO, "is not among the positions"),
        ("sock-fold", replace(DEMO, avoid_regions=("feet",)), "a place that you avoid"),
        ("birch-bark", replace(DEMO, cautions=("varicose_veins",)), "one of the cautions"),
    ],
)
def test_what_cannot_come_in_is_refused_with_its_reason(
    learned: str, brief: Brief, says: str
) -> None:
    found = grown(learned, brief=brief)
    assert found.outcome.routine is None
    (reason,) = found.outcome.reasons
    assert says in reason
    assert reason.endswith(".")


def test_what_is_there_already_is_told_with_its_time() -> None:
    old = planned(DEMO)
    there = old.refrains[0][0]
    found = grow_plan(old, CRAFT, [str(there.technique)], at="routine.json")
    at = as_minutes(old.start_seconds(there))
    assert f"is in this routine already, at {at}." in found.outcome.reasons[0]


def test_what_presses_deeper_than_the_old_level_may_is_refused() -> None:
    deep = tuple(
        replace(t, pressure=(4, 4), level=2) if t.id == "ox-cart" else t for t in CRAFT.techniques
    )
    brief = replace(DEMO, level=1)
    found = grown("ox-cart", brief=brief, craft=replace(CRAFT, techniques=deep))
    assert "begins at pressure 4" in found.outcome.reasons[0]


def test_a_caution_for_a_clinician_comes_before_everything() -> None:
    found = grow_plan(
        planned(DEMO),
        CRAFT,
        ["harp-maker"],
        at="routine.json",
        brief=replace(DEMO, cautions=("fever",)),
    )
    assert found.outcome.routine is None
    assert "clinician" in found.outcome.reasons[0]


def test_an_unknown_technique_is_named_with_the_nearest() -> None:
    with pytest.raises(BadInput, match='"harp-makr" is not in the repertoire; did you mean "harp'):
        grown("harp-makr")
    assert whole(grown("Harp Maker")) == whole(grown("harp-maker"))


def test_what_is_insisted_on_is_never_swapped_out() -> None:
    brief = replace(DEMO, open_minutes=Fraction(0), keep=(Keep(technique="shell-edge"),))
    new = whole(grown("harp-maker", "deep-furrow", brief=brief))
    assert "shell-edge" in {p.technique for p in new.line}
    assert musts(new) == []


@pytest.mark.parametrize("seed", range(30, 42))
def test_random_routines_grow_within_the_rules_or_say_why_not(seed: int) -> None:
    brief = random_brief(seed, CRAFT, longest=20)
    routine = plan(brief, CRAFT, effort=QUICK).routine
    if routine is None:
        pytest.skip("this random brief has no plan")
    technique = CRAFT.techniques[(37 * seed) % len(CRAFT.techniques)]
    found = grow_plan(routine, CRAFT, [technique.id], at="routine.json")
    if found.outcome.routine is None:
        assert found.outcome.reasons
        return
    new = found.outcome.routine
    assert musts(new) == []
    assert technique.id in {p.technique for p in new.line}
    limits = TRAINED_LEVEL_LIMITS if brief.trained else LEVEL_LIMITS
    assert max(p.pressure for p in new.line) <= limits[brief.level]
    assert new.cues


def test_the_command_writes_tells_and_refuses(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, out = tmp_path / "routine.json", tmp_path / "grown.json"
    write_routine(path, planned(DEMO, "harp-maker"))
    assert main(["grow", str(path), "--learned", "harp-maker", "--out", str(out)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "Harp Maker comes in at" in printed
    assert "percent of the bars are as they were" in printed
    assert read_routine(out) == whole(grown("harp-maker"))
    assert main(["grow", str(path), "--learned", "snail-trail", "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["routine"] is None
    assert main(["grow", str(path), "--learned", "nobody"]) == 2
    data = routine_to_dict(planned(DEMO))
    del data["brief"]
    path.write_text(json.dumps(data), "utf-8")
    assert main(["grow", str(path), "--learned", "harp-maker"]) == 2
    assert "carries no brief" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("seed", "learned"),
    [
        (427, ("sun-pebble", "bee-hum")),
        (403, ("glacier-slope", "sleepy-cat", "bread-shoulders")),
        (406, ("harp-maker", "slow-plough")),
    ],
)
def test_several_that_need_a_new_plan_are_all_there_and_named_with_what_was_there_before(
    seed: int, learned: tuple[str, ...]
) -> None:
    """What was planned anew for one must have in it what came before it, and a passage that was
    there only on the way is nothing that the couple knew."""
    old = plan(random_brief(seed, CRAFT, longest=20), CRAFT, effort=QUICK, loosen=False).routine
    assert old is not None
    found = grow_plan(old, CRAFT, learned, at="routine.json")
    new = whole(found)
    assert musts(new) == []
    assert new.brief is not None
    assert {k.technique for k in new.brief.keep} >= set(learned)
    assert {p.technique for p in new.line if p.kept} >= set(learned)
    noted = [p.why[0] for p in new.line if p.why[0].startswith("Learned by now")]
    assert len(noted) == len(learned)
    for says in (*found.says[: len(learned)], *noted):
        names = re.split(r", | and ", re.split(r" place of ", says)[1].rstrip("."))
        assert len(names) == len(set(names))
        for name in names:
            id = next(t.id for t in CRAFT.techniques if t.plain == name)
            before, after = (sum(p.bars for p in r.line if p.technique == id) for r in (old, new))
            assert after < before, says


def test_where_all_is_planned_anew_what_is_insisted_on_is_held_where_it_stands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Six that may stand anywhere took the search more than a minute; this one takes seconds."""
    asked: list[Brief] = []
    near = swaps.planned_near

    def told(brief: Brief, *others: Any) -> Outcome:
        asked.append(brief)
        return near(brief, *others)

    monkeypatch.setattr(swaps, "planned_near", told)
    keeps = tuple(Keep(technique=t) for t in ("bread-shoulders", "snow-slide"))
    brief = replace(DEMO, keep=keeps, open_minutes=Fraction(0))
    found = grown("rope-hands", "walnut", "hay-rake", brief=brief)
    assert asked, "nothing was planned anew"
    old = planned(brief, "rope-hands", "walnut", "hay-rake")
    for keep in asked[0].keep[:2]:
        starts = [old.start_seconds(p) for p in old.line if p.technique == keep.technique]
        assert keep.at_seconds in starts
    for keep in asked[0].keep:
        assert keep.at_seconds is not None
    grown_brief = whole(found).brief
    assert grown_brief is not None
    assert grown_brief.keep[:2] == keeps  # and may stand anywhere another time


@pytest.mark.parametrize("learned", ["clock-rain", "glacier-slope"])
def test_what_the_level_of_the_couple_now_reaches_is_no_stretch_any_more(learned: str) -> None:
    """A technique of level 4 lifts the couple to it, and a stretch passage of level 4 is theirs."""
    old = planned(DEMO, learned)
    (stretch,) = {p.technique for p in old.line if p.stretch}
    found = grow_plan(old, CRAFT, [learned], at="routine.json")
    new = whole(found)
    assert new.brief is not None
    assert new.brief.level == CRAFT.technique(learned).level == CRAFT.technique(stretch or "").level
    assert stretch in {p.technique for p in new.line}
    assert not any(p.stretch for p in new.line)
    assert not any("above the couple's level" in why for p in new.line for why in p.why)
    told = f"{CRAFT.technique(stretch or '').plain} is no longer the stretch passage: at "
    assert any(says.startswith(told) for says in found.says)


def test_what_has_its_time_is_not_held_for_what_has_none() -> None:
    old = planned(replace(DEMO, minutes=Fraction(12)))
    first, second = [p for p in old.line if p.role is Role.WORK][1:4:2]
    same = tuple(
        replace(p, technique=first.technique) if p.id == second.id else p for p in old.passages
    )
    id = first.technique or ""
    at = Fraction(round(old.start_seconds(first)))
    keeps = (Keep(technique=id), Keep(technique=id, at_seconds=at))
    assert old.brief is not None
    brief = replace(old.brief, keep=keeps)
    frame = frame_of(brief, refrains=len(old.refrains))
    twice = replace(old, passages=same, brief=brief)
    free, timed = swaps._where_they_stand(twice, CRAFT, frame)
    assert timed.at_seconds == at
    assert free.at_seconds == frame.seconds_at(second.start_bar)
