"""Second thoughts about many routines: a good one comes of each, or sentences."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

import pytest

from change_samples import (
    CRAFT,
    brief_of_seed,
    broken,
    done,
    lamplight,
)
from random_edits import random_edit
from rondel.app.change_plan import change_plan
from rondel.app.make_plan import with_cues
from rondel.model.routine import Routine
from rondel.model.words import Role, Side
from rondel.planner.attempts import QUICK
from rondel.planner.edits import (
    Begin,
    Edit,
    Free,
    Insist,
    LeaveOpen,
    Lengthen,
    Move,
    Press,
    Shorten,
    Swap,
)
from rondel.planner.groups import groups_of
from rondel.planner.plan import plan

SEEDS = (0, 2, 4, 6, 8, 11)  # random briefs for which there is a routine


@cache
def of_seed(seed: int) -> Routine:
    """A routine for a random brief, found quickly: what is changed need not be the best."""
    routine = plan(brief_of_seed(seed), CRAFT, effort=QUICK).routine
    assert routine is not None
    return with_cues(routine, CRAFT)


def test_what_gets_longer_does_not_reach_back_into_the_opening() -> None:
    # In the first 90 seconds hands only glide, hold or embrace: a rule of the project's rule book.
    seen = 0
    for routine in (lamplight(), *map(of_seed, SEEDS)):
        for passage in routine.line:
            is_early = 90 <= routine.start_seconds(passage) < 106
            if is_early and passage.role is Role.WORK and passage.side is not Side.RIGHT:
                seen += 1
                edit = Lengthen(passage=passage.id, seconds=Fraction(16))
                assert "hands arrive" not in " ".join(
                    change_plan(routine, edit, CRAFT).outcome.reasons
                )
    assert seen


def met(edit: Edit, old: Routine, new: Routine) -> bool:
    """True where `new` shows what was asked for. Written without a look at how edits are made."""
    was = next(p for p in old.line if p.id == edit.passage)
    about = [p for p in new.line if abs(p.start_bar - was.start_bar) <= 2 * was.bars + 8]
    same = [p for p in about if p.technique == was.technique]
    match edit:
        case Lengthen():
            return any(p.bars > was.bars for p in same)
        case Shorten():
            return any(p.bars < was.bars for p in same)
        case Move():
            first = min(
                (g for g in groups_of(old, CRAFT) if g.holds(was)), key=lambda g: g.start_bar
            ).first
            starts = (new.start_seconds(p) for p in new.line if p.technique == first.technique)
            bar = old.clock.bar_seconds()
            return any(abs(s - float(edit.to_seconds)) <= bar + 0.01 for s in starts)
        case Swap():
            return any(p.technique == edit.technique for p in about)
        case Begin():
            # Deep work comes with its rest: the side of the whole row is asked about.
            rows = groups_of(new, CRAFT)
            firsts = {g.first.side for g in rows if any(g.holds(p) for p in same)}
            wanted = [edit.side] if edit.side else [Side.LEFT, Side.RIGHT]
            return any(side in firsts for side in wanted)
        case Press():
            return any(p.pressure == edit.pressure for p in same)
        case LeaveOpen():
            return any(p.is_open for p in about)
        case Insist():
            return new.line != old.line and done(new) == done(old)
        case Free():
            return was.is_open or done(new) == done(old)
    return False


@pytest.mark.parametrize("seed", SEEDS)
def test_random_edits_end_in_a_good_routine_or_in_sentences(seed: int) -> None:
    routine = of_seed(seed)
    made = 0
    for number in range(8):
        edit = random_edit(1000 * seed + number, routine, CRAFT)
        answer = change_plan(routine, edit, CRAFT)
        new = answer.outcome.routine
        if new is None:
            assert answer.outcome.reasons
            assert all(s[:1].isupper() or s[:1] == '"' for s in answer.outcome.reasons)
            assert all(s.endswith((".", "?", "!")) for s in answer.outcome.reasons)
            continue
        made += 1
        assert broken(new) == [], edit
        assert met(edit, routine, new), edit
        assert answer.moved
        assert new.cues
    assert made
