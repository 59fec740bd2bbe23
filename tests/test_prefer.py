"""Techniques that are preferred, by hand or because takes show them, are used where rules allow.

How much of the time they get is counted here bar by bar, and whether any rule is broken is judged
by the checker, which knows nothing of preferences.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from desk_client import studio_with_demo
from desk_window import DeskWindow
from planner_briefs import random_brief
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.routine_shelf import Shelf
from rondel.adapters.studio_files import demo_brief, read_routine
from rondel.adapters.take_names import techniques_shown
from rondel.adapters.technique_uses import uses_of
from rondel.app.explain_plan import explain_plan
from rondel.app.make_plan import make_plan
from rondel.checker.check import check
from rondel.cli.main import main
from rondel.model.brief import Brief
from rondel.model.finding import Severity
from rondel.model.routine import Routine
from rondel.planner.attempts import QUICK
from rondel.planner.plan import plan
from rondel.planner.preferred import preferred_told
from rondel.planner.score import score

CRAFT = builtin_craft()
#: Names picked by hand, all of strokes that two who have practised a month may do lying prone.
FILMED = ("snow-slide", "sleepy-cat", "cloud-line")
BRIEF = """\
title = "Reed Bank"
minutes = 6
intention = "settle"
level = 2
"""


def share(routine: Routine, techniques: tuple[str, ...]) -> float:
    """Return the share of the bars in which one of the techniques is done."""
    bars = [p.technique for p in routine.line for _ in range(p.bars)]
    return sum(t in techniques for t in bars) / len(bars)


def planned(brief: Brief) -> Routine:
    routine = plan(brief, CRAFT, effort=QUICK).routine
    assert routine is not None
    return routine


@pytest.mark.parametrize("minutes", [8, 15])
@pytest.mark.parametrize("prefer", [FILMED, ("milk-path", "twin-rails", "pond-ripples")])
def test_what_is_preferred_gets_more_of_the_time(minutes: int, prefer: tuple[str, ...]) -> None:
    plain = replace(demo_brief(), minutes=Fraction(minutes), refrains=None)
    usual, rather = planned(plain), planned(replace(plain, prefer=prefer))
    assert share(rather, prefer) >= share(usual, prefer) + 0.1
    assert [f for f in check(rather, CRAFT, rather.brief) if f.severity is Severity.MUST] == []


def test_what_is_not_preferred_costs_by_the_minute_and_nothing_else_does() -> None:
    routine = planned(replace(demo_brief(), prefer=FILMED))
    parts = dict(score(routine, CRAFT).parts)
    others = sum(
        float(routine.end_seconds(p) - routine.start_seconds(p))
        for p in routine.line
        if not p.is_open and p.technique not in FILMED
    )
    assert parts["prefer"] == pytest.approx(others / 60, rel=0.02)  # tempo is nudged by 1.5 %
    assert routine.brief is not None
    without = replace(routine, brief=replace(routine.brief, prefer=()))
    rest = dict(score(without, CRAFT).parts)
    # How good a home is, is seen beside other homes, of which some are preferred: that is taste.
    assert {part for part, cost in parts.items() if rest.get(part) != cost} <= {"prefer", "taste"}


@pytest.mark.parametrize("first", [9000, 9008])
def test_random_briefs_that_prefer_something_break_no_rule(first: int) -> None:
    ids = [t.id for t in CRAFT.techniques]
    planned = 0
    for seed in range(first, first + 8):
        prefer = tuple(ids[(7 * seed + 11 * n) % len(ids)] for n in range(1 + seed % 5))
        brief = replace(random_brief(seed, CRAFT, longest=15), prefer=prefer)
        outcome = plan(brief, CRAFT, effort=QUICK)
        if outcome.routine is None:
            assert outcome.reasons
            continue
        planned += 1
        broken = [f for f in check(outcome.routine, CRAFT, brief) if f.severity is Severity.MUST]
        assert broken == [], seed
    assert planned >= 4


def test_what_became_of_it_is_told() -> None:
    brief = replace(demo_brief(), prefer=FILMED)
    routine = planned(brief)
    used = {p.technique for p in routine.line}
    there = [t for t in FILMED if t in used]
    (says,) = preferred_told(routine, CRAFT)
    assert there
    assert f"{round(100 * share(routine, FILMED))} percent" in says
    assert all(CRAFT.technique(t).plain in says for t in FILMED)
    assert ("there was no place for" in says) is (len(there) < len(FILMED))
    too_hard = max(CRAFT.techniques, key=lambda t: t.level)
    gone = replace(routine, brief=replace(brief, prefer=(too_hard.id,)))
    assert preferred_told(gone, CRAFT) == (
        f"Of what you prefer nothing found a place: {too_hard.plain}.",
    )
    assert preferred_told(replace(routine, brief=demo_brief()), CRAFT) == ()
    assert explain_plan(routine, CRAFT)[1][0] == says


def test_another_choice_is_told_to_lose_of_it() -> None:
    outcome = make_plan(replace(demo_brief(), minutes=Fraction(5), prefer=FILMED), CRAFT)
    assert outcome.routine is not None
    told = " ".join(why for p in outcome.routine.line for why in p.why)
    assert "less of the time would go to what you prefer" in told


# ------------------------------------------------------------------ what is filmed
def lay(folder: Path, name: str, corrections: str) -> None:
    """Lay a take with what was said of it; nothing of its pictures is looked at."""
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(b"a film")
    (folder / f"{name}.corrections.toml").write_text(corrections, "utf-8")


@pytest.fixture
def home(tmp_path: Path) -> Path:
    (tmp_path / "brief.toml").write_text(BRIEF, "utf-8")
    return tmp_path


def test_what_takes_show_is_preferred(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lay(home / "takes", "one.mp4", 'technique = "snow-slide"\nangle = "close"\n')
    lay(home / "takes", "two.mp4", 'named = ["0:12=sleepy-cat", "0:40=cloud-line"]\n')
    lay(home / "takes", "three.mp4", 'technique = "snow-slide"\n')
    assert techniques_shown(sorted((home / "takes").glob("*.mp4"))) == (
        "snow-slide",
        "sleepy-cat",
        "cloud-line",
    )
    brief, out = home / "brief.toml", home / "routine.json"
    assert main(["plan", str(brief), "--filmed", "--out", str(out)]) == 0
    told = " ".join(capsys.readouterr().out.split())
    routine = read_routine(out)
    assert routine.brief is not None
    assert set(routine.brief.prefer) == set(FILMED)
    assert preferred_told(routine, CRAFT)[0] in told
    assert main(["plan", str(brief), "--out", str(home / "plain.json")]) == 0
    assert share(routine, FILMED) > share(read_routine(home / "plain.json"), FILMED)
    assert main(["plan", str(brief), "--filmed", "--levels", "1,2", "--out", str(home / "f")]) == 0
    family = sorted((home / "f").glob("*.json"))
    assert len(family) == 2
    assert all((read_routine(p).brief or demo_brief()).prefer for p in family)


@pytest.mark.parametrize(
    ("lays", "words", "says"),
    [
        (False, [], "no take lies in a folder takes, beside it or in its studio"),
        (True, [], "nobody has said what the takes beside it show"),
        (True, ["--near", "brief.toml"], "this does not go with --near"),
    ],
)
def test_where_nothing_is_filmed_it_is_said(
    home: Path, capsys: pytest.CaptureFixture[str], lays: bool, words: list[str], says: str
) -> None:
    if lays:
        lay(home / "takes", "one.mp4", 'angle = "close"\n')
    assert main(["plan", str(home / "brief.toml"), "--filmed", *words]) == 2
    assert says in " ".join(capsys.readouterr().err.split())


def test_a_take_of_what_nobody_teaches_is_told(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lay(home / "takes", "one.mp4", 'technique = "sleepy-kat"\n')
    assert main(["plan", str(home / "brief.toml"), "--filmed"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "a take is said to show sleepy-kat, which nobody teaches here; name it anew" in said


def test_an_unknown_name_is_told_with_the_nearest(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (home / "brief.toml").write_text(BRIEF + 'prefer = ["Snow Slide"]\n', "utf-8")
    assert main(["plan", str(home / "brief.toml")]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert 'prefer: "Snow Slide" is not known; did you mean "snow-slide"?' in said


# ------------------------------------------------------------------ at the desk
def test_at_the_desk_it_is_planned_anew_for_what_is_filmed_and_back(tmp_path: Path) -> None:
    studio = studio_with_demo(tmp_path)
    folder = studio / "routines" / "lamplight"
    desk, leaf = DeskWindow(studio), "/r/lamplight/takes"

    def routine() -> Routine:
        return read_routine(folder / "routine.json")

    def press(word: str) -> str:
        version = desk.get("/r/lamplight/").value("version")
        answer = desk.post(f"{leaf}/plan", {"version": version, "with": word})
        return (desk.then(answer) if answer.status == 303 else answer).words

    assert "A plan for what is filmed" not in desk.get(leaf).words
    assert "no take lies in a folder takes" in press("filmed")
    lay(folder / "takes", "one.mp4", 'named = ["0:12=sleepy-cat", "0:40=cloud-line"]\n')
    before = share(routine(), FILMED)
    assert "Planned rather with what is filmed." in press("filmed")
    assert (routine().brief or demo_brief()).prefer == ("sleepy-cat", "cloud-line")
    assert share(routine(), FILMED) > before
    assert preferred_told(routine(), CRAFT)[0] in desk.get(leaf).words
    uses = {use.slug for use in uses_of(Shelf(studio), "cloud-line")}
    assert uses == {"lamplight"}
    assert "Planned with no preference." in press("any")
    assert (routine().brief or demo_brief()).prefer == ()
    assert "with no preference" not in desk.get(leaf).words
    stale = desk.post(f"{leaf}/plan", {"version": "long-ago", "with": "any"})
    assert stale.status == 409
