"""Second thoughts: what was asked for is done, and stands when more is asked."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction

import pytest

from change_samples import (
    broken,
    changed,
    done,
    lamplight,
    named,
    planned,
    refused,
    work,
)
from rondel.adapters.studio_files import demo_brief
from rondel.app.change_plan import passage_at
from rondel.model.brief import Keep
from rondel.model.codec.routine import routine_from_dict, routine_to_dict
from rondel.model.routine import Proof, Routine
from rondel.model.words import Role, Side
from rondel.planner.constraints.keep import bars_window, start_window
from rondel.planner.edits import (
    Begin,
    Free,
    Insist,
    LeaveOpen,
    Lengthen,
    Move,
    Press,
    Shorten,
    Swap,
)
from rondel.planner.frame import frame_of


@pytest.mark.parametrize("lateral", [True, False])
def test_a_passage_is_lengthened_and_stays_so_in_the_brief(lateral: bool) -> None:
    was = work(lamplight(), lateral=lateral)
    new, _ = changed(Lengthen(passage=was.id, seconds=Fraction(16)))
    now = named(new, was.technique, was)
    # A bar lasts four seconds at 60 beats a minute; strokes may need one bar more to fill it.
    assert was.bars + 4 <= now.bars <= was.bars + 6
    assert now.kept
    assert new.brief is not None
    kept = new.brief.keep[-1]
    assert kept.technique == was.technique
    assert kept.minutes is not None
    assert abs(kept.minutes * 60 - now.bars * 4) <= 4


def test_a_passage_is_shortened() -> None:
    was = work(lamplight(), lateral=True)
    new, _ = changed(Shorten(passage=was.id))
    both = [p for p in new.line if p.technique == was.technique and p.role is Role.WORK]
    assert {p.side for p in both} == {Side.LEFT, Side.RIGHT}
    assert all(p.bars < was.bars for p in both)


def test_a_passage_moves_and_is_no_longer_where_it_was() -> None:
    was = work(lamplight(), lateral=False)
    at = round(lamplight().start_seconds(was)) - 16
    new, answer = changed(Move(passage=was.id, to_seconds=Fraction(at)))
    starts = [new.start_seconds(p) for p in new.line if p.technique == was.technique]
    assert len(starts) == 1
    assert abs(starts[0] - at) <= 4
    assert answer.changed_bars <= new.bars // 4


def test_another_technique_takes_its_place() -> None:
    was = work(lamplight(), lateral=False)
    new, _ = changed(Swap(passage=was.id, technique="bread-shoulders"))
    now = named(new, "bread-shoulders", was)
    assert abs(now.start_bar - was.start_bar) <= 1
    assert passage_at(new, lamplight().start_seconds(was) + 8).technique == "bread-shoulders"


def test_the_other_side_begins_and_nothing_else_moves() -> None:
    was = work(lamplight(), lateral=True)
    new, answer = changed(Begin(passage=was.id))
    sides = [p.side for p in new.line if p.technique == was.technique and p.role is Role.WORK]
    assert sides == [Side.RIGHT, Side.LEFT]
    assert answer.moved == ("Nothing else moved.",)
    assert answer.changed_bars == 0
    assert answer.asked_bars == 2 * was.bars


def test_the_other_passage_of_a_pair_means_the_same_pair() -> None:
    was = work(lamplight(), lateral=True)
    place = lamplight().line.index(was)
    one, _ = changed(Begin(passage=was.id))
    other, _ = changed(Begin(passage=lamplight().line[place + 1].id))
    assert one == other


def test_pressure_changes_on_both_sides_in_place() -> None:
    was = work(lamplight(), lateral=True)  # between two returns, so that nothing hangs on it
    new, answer = changed(Press(passage=was.id, pressure=was.pressure + 1))
    firmer = [p for p in new.line if p.technique == was.technique and p.role is Role.WORK]
    assert [p.pressure for p in firmer] == [was.pressure + 1] * 2
    differ = [
        i for i, (a, b) in enumerate(zip(done(lamplight()), done(new), strict=True)) if a != b
    ]
    assert differ == list(range(was.start_bar, was.start_bar + 2 * was.bars))
    assert (answer.asked_bars, answer.changed_bars) == (2 * was.bars, 0)


def test_bars_are_left_open_and_filled_again() -> None:
    was = work(lamplight(), lateral=False)
    new, answer = changed(LeaveOpen(passage=was.id))
    free = passage_at(new, lamplight().start_seconds(was) + 8)
    assert free.is_open
    assert answer.changed_bars == 0
    assert new.brief is not None
    assert new.brief.open_minutes * 60 == sum(p.bars for p in new.line if p.is_open) * 4
    again, _ = changed(Swap(passage=free.id, technique=str(was.technique)), new)
    assert passage_at(again, lamplight().start_seconds(was) + 8).technique == was.technique


def test_the_refrain_changes_in_every_return() -> None:
    base = lamplight().refrains[2][0]
    new, answer = changed(Shorten(passage=base.id, seconds=Fraction(8)))
    # Eight seconds are two bars at 60 beats a minute.
    assert {row[0].bars for row in new.refrains} == {base.bars - 2}
    assert len(new.refrains) == len(lamplight().refrains)
    assert not any("return of the refrain" in says for says in answer.moved)


def test_what_is_kept_and_freed_again_is_as_it_was() -> None:
    was = work(lamplight(), lateral=True)
    kept, answer = changed(Insist(passage=was.id))
    assert answer.moved == ("Nothing else moved.",)
    assert done(kept) == done(lamplight())
    now = next(p for p in kept.line if p.id == was.id)
    assert now.kept
    assert now.why[0].startswith("You insist on it at ")
    freed, _ = changed(Free(passage=was.id), kept)
    assert replace(freed, proof=lamplight().proof) == lamplight()


def test_what_was_proved_of_a_routine_is_not_told_of_it_with_less_insisted_on() -> None:
    brief = replace(demo_brief(), keep=(Keep(technique="bread-shoulders"),))
    held = replace(planned(brief), proof=Proof(status="optimal", objective=2.5, bound=2.5))
    was = next(p for p in held.line if p.kept)
    still, _ = changed(Insist(passage=was.id), held)
    assert still.proof == held.proof  # with more insisted on, no plan becomes better
    freed, _ = changed(Free(passage=was.id), held)
    assert freed.proof == Proof(status="found", objective=2.5)
    # What stands beside its time is then insisted on where it stands, so others may be there.
    at = Fraction(round(held.start_seconds(was))) - 3
    timed = replace(brief, keep=(Keep(technique="bread-shoulders", at_seconds=at),))
    moved, _ = changed(Insist(passage=was.id), replace(held, brief=timed))
    assert moved.proof == Proof(status="found", objective=2.5)


def written(routine: Routine) -> Routine:
    return routine_from_dict(json.loads(json.dumps(routine_to_dict(routine))))


def test_what_is_insisted_on_may_stand_and_last_the_same_when_read_from_its_file() -> None:
    """Where bars last no whole thousandths, a time read again is a little off."""
    brief = replace(demo_brief(), bpm=Fraction(56))
    frame = frame_of(brief)
    bar = frame.bar_seconds
    keeps = tuple(
        Keep(technique="bellows", at_seconds=at * bar, minutes=(10 + at % 7) * bar / 60)
        for at in range(20, 200)
    )
    read = written(replace(lamplight(), brief=replace(brief, keep=keeps))).brief
    assert read is not None
    assert read.keep != keeps
    for at, keep in zip(range(20, 200), read.keep, strict=True):
        assert start_window(keep, frame) == (at - 1, at + 1)
        assert bars_window(keep, frame) == (9 + at % 7, 11 + at % 7)


def test_what_is_insisted_on_already_is_known_again_when_read_from_its_file() -> None:
    routine = planned(replace(demo_brief(), bpm=Fraction(56)))
    was = work(routine, lateral=False)
    kept, _ = changed(Insist(passage=was.id), routine)
    assert written(kept).brief != kept.brief
    says = refused(Insist(passage=was.id), written(kept))
    assert says.startswith("You insist on ")
    assert says.endswith(" as it is already.")


def test_an_edit_stands_when_the_next_one_is_made() -> None:
    was = work(lamplight(), lateral=True)
    longer, _ = changed(Lengthen(passage=was.id))
    now = named(longer, was.technique, was)
    other = work(longer, lateral=False)
    both, _ = changed(Swap(passage=other.id, technique="bread-shoulders"), longer)
    assert named(both, was.technique, now).bars >= now.bars
    assert both.brief is not None
    assert {k.technique for k in both.brief.keep} >= {was.technique, "bread-shoulders"}


def test_a_second_edit_of_a_passage_takes_the_place_of_the_first() -> None:
    was = work(lamplight(), lateral=True)
    longer, _ = changed(Lengthen(passage=was.id))
    now = named(longer, was.technique, was)
    turned, _ = changed(Begin(passage=now.id), longer)
    assert turned.brief is not None
    assert longer.brief is not None
    assert len(turned.brief.keep) == len(longer.brief.keep)
    assert turned.brief.keep[-1].side is Side.RIGHT


def test_a_changed_routine_comes_back_from_its_file_and_can_be_changed_again() -> None:
    was = work(lamplight(), lateral=True)
    new, _ = changed(Lengthen(passage=was.id))
    read = routine_from_dict(json.loads(json.dumps(routine_to_dict(new))))
    assert broken(read) == []
    now = named(read, was.technique, was)
    freed, answer = changed(Free(passage=now.id), read)
    assert done(freed) == done(new)
    assert answer.moved == ("Nothing else moved.",)
