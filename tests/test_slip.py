"""Who has lost the thread is shown the way back to the refrain, everywhere the same."""

from __future__ import annotations

from dataclasses import replace

import pytest

import page_samples as samples
from cue_routines import lot_routine
from rondel.adapters.craft_files import builtin_craft
from rondel.drawing.page import draw_page
from rondel.drawing.page_cards import caution_cards
from rondel.model.routine import Routine
from rondel.model.slip import slip_plan, slip_way
from rondel.model.time import as_minutes
from rondel.model.words import NamesShown, Position, Role

CRAFT = builtin_craft()
ROUTINES = [lot_routine(seed, minutes) for seed, minutes in ((1, 5.0), (2, 15.0), (3, 45.0))]


@pytest.mark.parametrize("routine", ROUTINES, ids=lambda r: f"{r.bars} bars")
def test_from_every_passage_the_next_return_is_the_way_home(routine: Routine) -> None:
    starts = [routine.start_seconds(row[0]) for row in routine.refrains]
    for passage in routine.line:
        at, says = slip_way(routine, passage, CRAFT)
        assert says.startswith("Lost? Carry on.")
        if passage.role is Role.REFRAIN:
            assert at in starts
            assert at is not None
            assert at <= routine.start_seconds(passage)
            continue
        later = [s for s in starts if s > routine.start_seconds(passage)]
        assert at == (later[0] if later else None)
        if at is not None:
            home = CRAFT.technique(routine.refrains[0][0].technique or "").plain
            assert home in says
            assert as_minutes(at) in says


def test_after_the_last_return_the_last_passage_is_where_to_join_in() -> None:
    routine = ROUTINES[1]
    last = routine.line[-1]
    name = CRAFT.technique(last.technique or "").plain
    before = routine.line[-2]
    assert before.role is not Role.REFRAIN
    assert name in slip_way(routine, before, CRAFT).says
    assert "last passage" in slip_way(routine, last, CRAFT).says


def test_who_is_to_turn_over_before_the_refrain_is_told() -> None:
    routine = ROUTINES[1]
    home = routine.refrains[1][0]
    turned = tuple(
        replace(p, position=Position.SUPINE) if p.start_bar >= home.start_bar else p
        for p in routine.passages
    )
    routine = replace(routine, passages=turned)
    before = next(p for p in routine.line if p.end_bar == home.start_bar)
    assert "lying face up" in slip_way(routine, before, CRAFT).says


def test_the_page_and_a_card_tell_the_way_and_a_long_list_of_times_is_cut() -> None:
    routine = samples.lamplight()
    says = slip_plan(routine, samples.CRAFT)
    # The returns of the sample begin at bars 23, 71, 123 and 171 of four seconds each.
    assert says.endswith("the refrain comes at 1:32, 4:44, 8:12 and 11:24.")
    for sheet in draw_page(routine, samples.CRAFT).sheets:
        assert "Lost? Carry on; if it happens again, go to" in sheet
    last = caution_cards(routine, samples.CRAFT)[-1]
    assert "1:32, 4:44, 8:12 and 11:24" in " ".join(says for _, says in last.parts)
    many = slip_plan(ROUTINES[2], CRAFT)
    returns = len(ROUTINES[2].refrains)
    assert many.count(":") == 1 + min(8, returns)
    assert (f"and {returns - 8} times more" in many) is (returns > 9)


def test_the_way_is_told_in_the_names_that_the_page_shows() -> None:
    routine = lot_routine(2, names=NamesShown.ANATOMICAL)
    technique = CRAFT.technique(routine.refrains[0][0].technique or "")
    assert technique.anatomical[1:] in slip_plan(routine, CRAFT)
    both = lot_routine(2, names=NamesShown.BOTH)
    assert technique.plain in slip_plan(both, CRAFT)


def test_without_a_refrain_nothing_is_promised() -> None:
    routine = ROUTINES[0]
    bare = replace(
        routine,
        passages=tuple(
            replace(p, role=Role.WORK) if p.role is Role.REFRAIN else p for p in routine.passages
        ),
    )
    assert slip_plan(bare, CRAFT) == ""
    assert slip_way(bare, bare.line[0], CRAFT).at_seconds is None
