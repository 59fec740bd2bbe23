"""One brief for several levels: what is alike is counted here again, bar by bar."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from planner_briefs import random_brief
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.studio_files import demo_brief, demo_brief_text, read_routine
from rondel.app.make_levels import make_levels, step_says
from rondel.checker.check import check
from rondel.cli.levels import beside, path_for
from rondel.cli.main import main
from rondel.model.brief import Brief, Keep
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Role
from rondel.planner.levels import Family
from rondel.planner.likeness import steps_of

CRAFT = builtin_craft()
DEMO = demo_brief()


@cache
def demo_family() -> Family:
    return make_levels(DEMO, CRAFT, (3, 1, 2))


def routines(found: Family) -> list[Routine]:
    return [m.outcome.routine for m in found.members if m.outcome.routine is not None]


def musts(routine: Routine, craft: Craft = CRAFT) -> list[str]:
    return [f.message for f in check(routine, craft) if f.severity is Severity.MUST]


def refrain(routine: Routine) -> list[tuple[object, ...]]:
    return [(p.technique, p.side, p.pressure, p.bars) for p in routine.refrains[0]]


def by_bar(routine: Routine) -> list[tuple[object, object]]:
    return [(p.technique, p.side) for p in routine.line for _ in range(p.bars)]


def test_every_level_keeps_the_rules_of_its_own_level() -> None:
    found = demo_family()
    assert [m.level for m in found.members] == [1, 2, 3]
    for member, routine in zip(found.members, routines(found), strict=True):
        assert routine.brief is not None
        assert routine.brief.level == member.level
        assert routine.title == f"Lamplight, level {member.level}"
        assert musts(routine) == []
        hard = {
            p.technique
            for p in routine.line
            if p.technique and CRAFT.technique(p.technique).level > member.level
        }
        assert len(hard) <= 1


def test_a_higher_level_brings_something_that_the_lower_cannot_do() -> None:
    for lower, upper in pairwise(routines(demo_family())):
        assert lower.brief is not None
        used = {p.technique for p in upper.line if p.technique and not p.stretch}
        assert max(CRAFT.technique(id).level for id in used) > lower.brief.level


def test_the_family_is_recognised() -> None:
    found = demo_family()
    for (lower, upper), step in zip(pairwise(routines(found)), found.steps, strict=True):
        same = sum(a == b for a, b in zip(by_bar(lower), by_bar(upper), strict=True))
        assert step.alike == pytest.approx(same / lower.bars)
        assert step.alike > 0.6
        assert step.same_refrain
        assert refrain(lower) == refrain(upper)
        starts = [[row[0].start_bar for row in r.refrains] for r in (lower, upper)]
        moved = [abs(a - b) for a, b in zip(*starts, strict=True) if a != b]
        # A deep peak and its rests take other bars than a lighter one; one return may give way,
        # by one phrase, and the middle of the peak moves by half of what the peak is longer.
        assert len(moved) <= 1
        assert sum(moved) <= 4
        assert step.peak_moved <= 32  # seconds, of fifteen minutes
        assert step.returns_moved == pytest.approx(4 * sum(moved))  # seconds, at 60 beats
        used = [{p.technique for p in r.line if p.technique} for r in (lower, upper)]
        assert set(step.new) == used[1] - used[0]
        assert set(step.gone) == used[0] - used[1]
        assert all(says.endswith(".") for says in step_says(step, CRAFT))


def test_what_is_known_from_the_refrain_is_nothing_new_elsewhere() -> None:
    lower, upper = routines(demo_family())[:2]
    home = lower.refrains[0][0]
    rest = next(p for p in upper.line if p.role in (Role.REST, Role.WORK))
    there = [replace(p, technique=home.technique) if p is rest else p for p in upper.passages]
    (step,) = steps_of([lower, replace(upper, passages=tuple(there))])
    assert home.technique not in step.new
    there = [replace(p, technique=home.technique) if p.id == rest.id else p for p in lower.passages]
    (step,) = steps_of([replace(lower, passages=tuple(there)), upper])
    assert home.technique not in step.gone


def test_the_same_brief_gives_the_same_family() -> None:
    assert make_levels(DEMO, CRAFT, (1, 2, 3)) == demo_family()


def test_the_refrain_is_one_that_the_lowest_level_can_do() -> None:
    # In this repertoire the demo's favourite refrain is not for beginners.
    favourites = {p.technique for p in routines(demo_family())[0].refrains[0]}
    harder = tuple(replace(t, level=2) if t.id in favourites else t for t in CRAFT.techniques)
    craft = replace(CRAFT, techniques=harder)
    found = make_levels(DEMO, craft, (1, 2))
    first, second = routines(found)
    assert refrain(first) == refrain(second)
    assert all(craft.technique(p.technique or "").level == 1 for p in first.refrains[0])
    assert musts(first, craft) == musts(second, craft) == []


def test_a_level_that_cannot_is_told_in_sentences_and_the_others_are_there() -> None:
    brief = replace(DEMO, level=3, keep=(Keep(technique="ox-cart"),))  # of level 4
    found = make_levels(brief, CRAFT, (1, 3))
    low, high = found.members
    assert low.outcome.routine is None
    assert "Ox Cart" in low.outcome.reasons[0]
    assert high.outcome.routine is not None
    assert found.steps == ()


@pytest.mark.parametrize("seed", [4, 7, 10, 11])
def test_random_families_keep_the_rules_and_their_refrain(seed: int) -> None:
    brief: Brief = random_brief(seed, CRAFT, longest=30)
    found = make_levels(brief, CRAFT, (1, 2, 3, 4))
    assert len(routines(found)) == 4
    for routine in routines(found):
        assert musts(routine) == []
    for step in found.steps:
        assert step.same_refrain
        assert step.alike > 0.5


def test_side_by_side_shows_what_is_as_on_the_left() -> None:
    lines = beside(routines(demo_family()), CRAFT)
    assert [c.strip() for c in lines[0].split("  ") if c.strip()] == [
        "level 1",
        "level 2",
        "level 3",
    ]
    home = next(line for line in lines if "~ " in line)
    assert home.count("=") == 2
    assert all(len(line) <= 96 for line in lines)


def test_files_are_named_by_level(tmp_path: Path) -> None:
    assert path_for(tmp_path / "lamp.json", 2) == tmp_path / "lamp-level-2.json"
    assert path_for(tmp_path, 3) == tmp_path / "routine-level-3.json"


def test_the_command_writes_one_file_a_level(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    brief = tmp_path / "brief.toml"
    brief.write_text(demo_brief_text(), "utf-8")
    out = tmp_path / "lamp.json"
    assert main(["plan", str(brief), "--levels", "1,2", "--out", str(out)]) == 0
    printed = capsys.readouterr().out
    assert "Side by side" in printed
    assert "percent of the bars are alike" in " ".join(printed.split())
    for level in (1, 2):
        written = read_routine(tmp_path / f"lamp-level-{level}.json")
        assert written.brief is not None
        assert written.brief.level == level
        assert written.cues
    assert not out.exists()
    assert main(["plan", str(brief), "--levels", "1,2", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [row["level"] for row in told["levels"]] == [1, 2]
    assert told["steps"][0]["same_refrain"] is True


def test_what_cannot_be_asked_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    brief = tmp_path / "brief.toml"
    brief.write_text(demo_brief_text(), "utf-8")
    with pytest.raises(SystemExit) as leaving:
        main(["plan", str(brief), "--levels", "0,7"])
    assert leaving.value.code == 2
    assert "levels from 1 to 5" in capsys.readouterr().err
    assert main(["plan", str(brief), "--levels", "1,2", "--others", "1"]) == 2
    assert "--levels: this goes with none of" in capsys.readouterr().err
