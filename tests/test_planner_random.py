"""Random briefs: a plan breaks no rule, and a refusal speaks in sentences.

The long run over random briefs is `benchmarks/plan.py --random`; that it can be killed and taken up
again is tested here.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from planner_briefs import random_brief
from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.brief import Brief, Keep
from rondel.model.finding import Severity
from rondel.model.words import Contact, Intention, Role
from rondel.planner.attempts import QUICK
from rondel.planner.plan import plan


@pytest.mark.parametrize("first", range(0, 40, 10))
def test_random_briefs_give_sound_plans_or_reasons(first: int) -> None:
    craft = builtin_craft()
    planned = 0
    for seed in range(first, first + 10):
        brief = random_brief(seed, craft, longest=20)
        outcome = plan(brief, craft, effort=QUICK)
        if outcome.routine is None:
            assert outcome.reasons
            assert all(reason.endswith(".") for reason in outcome.reasons)
            continue
        planned += 1
        broken = [f for f in check(outcome.routine, craft, brief) if f.severity is Severity.MUST]
        assert broken == [], seed
    assert planned >= 5  # most of what a teacher may ask for can be planned


def _kept(technique: str, minutes: str, intention: Intention) -> Brief:
    """Return a brief for level 1 that keeps a minute of a technique at pressure 1."""
    keep = Keep(technique=technique, minutes=Fraction(1), pressure=1)
    return Brief(
        title="Kept", minutes=Fraction(minutes), intention=intention, level=1, keep=(keep,)
    )


def test_where_the_peak_is_light_nothing_else_is_firmer() -> None:
    """A minute a side at pressure 1 leaves no time for another peak in so short a form; a home of
    strokes at 2 would then be firmer than the peak (found by the long run: seeds 7254, 7776)."""
    craft = builtin_craft()
    brief = _kept("round-hill", "3.2", Intention.SLEEP)
    routine = plan(brief, craft, effort=QUICK).routine
    assert routine is not None
    firmest = {p.role: p.pressure or 0 for p in routine.passages}
    assert firmest[Role.PEAK] == 1
    assert max(firmest.values()) == 1
    assert [f for f in check(routine, craft, brief) if f.severity is Severity.MUST] == []


def test_what_is_kept_above_the_level_is_the_one_stretch_passage() -> None:
    """It begins in the last third, not as the arrival, and no second one is chosen (seed 6240)."""
    craft = builtin_craft()
    brief = _kept("thumb-comet", "12.5", Intention.WAKE)
    brief = replace(brief, stretch=True, spare=(Contact.HEEL,), refrains=1)
    routine = plan(brief, craft, effort=QUICK).routine
    assert routine is not None
    above = [p for p in routine.passages if p.stretch]
    assert {p.technique for p in above} == {"thumb-comet"}
    assert min(p.start_bar for p in above) * 3 >= 2 * routine.passages[-1].end_bar
    assert [f for f in check(routine, craft, brief) if f.severity is Severity.MUST] == []


@pytest.fixture
def long_run() -> object:
    """Return the module of the long run, which lies outside the package."""
    sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))
    try:
        import random_briefs
    finally:
        sys.path.pop(0)
    return random_briefs


def test_the_long_run_is_taken_up_where_it_was_killed(
    long_run: object, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A line torn in the middle is planned again; whole lines stay, and no brief is lost."""
    runs: Any = long_run
    state, kind = tmp_path / "deep" / "state.jsonl", runs.Kind(longest=8, effort="quick")
    runs.run(state, 0, 3, kind, 1)
    whole = state.read_bytes()
    assert whole.count(b"\n") == 3
    state.write_bytes(whole[:-25])
    runs.run(state, 0, 4, kind, 1)
    assert "4 briefs from seed 0: 2 are there already" in capsys.readouterr().out
    there = runs.read(state, kind)
    assert sorted(there) == [0, 1, 2, 3]
    assert state.read_bytes().startswith(whole[:-25])
    assert all(line.outcome in ("planned", "refused") and not line.must for line in there.values())


def test_the_long_run_tells_what_went_wrong(
    long_run: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    runs: Any = long_run

    def falls(*_: object, **__: object) -> object:
        raise ZeroDivisionError("a brief that no one foresaw")

    monkeypatch.setattr(runs, "plan", falls)
    line = runs.judged(7, runs.Kind(longest=8, effort="quick"), "")
    assert line.outcome == "crashed"
    said = runs.summary([line])
    assert "crashed 1" in said
    assert "seed 7: ZeroDivisionError: a brief that no one foresaw" in said
