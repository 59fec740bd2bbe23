"""Edits as typed or pressed: answered in sentences, whatever passage they are asked of."""

from __future__ import annotations

import pytest

from desk_client import demo_routine
from rondel.adapters.craft_files import builtin_craft
from rondel.app.change_plan import change_plan
from rondel.app.edit_words import edit_of, is_clock, seconds_of
from rondel.model.errors import BadInput

ASKED = (
    *(("lengthen", None), ("lengthen", "500"), ("shorten", None), ("side", None)),
    *(("keep", None), ("move", "3:00"), ("pressure", "3"), ("swap", "slow-mill"), ("open", None)),
)


@pytest.mark.parametrize(("what", "to"), ASKED)
def test_an_edit_of_bars_left_open_is_answered_in_sentences(what: str, to: str | None) -> None:
    """Found at the desk: bars left open have no technique to do less of."""
    routine = demo_routine()
    passage = next(p for p in routine.line if p.is_open)
    changed = change_plan(routine, edit_of(what, passage.id, to), builtin_craft())
    assert changed.outcome.routine is not None or changed.outcome.reasons


@pytest.mark.parametrize("word", ["9", "9:60", "-1:00", "9:3", "", "9:30:00", "nine"])
def test_a_time_that_is_none_is_refused_in_a_sentence(word: str) -> None:
    assert not is_clock(word)
    with pytest.raises(BadInput, match="minutes and seconds"):
        seconds_of(word)
    with pytest.raises(BadInput):
        edit_of("move", "p03", word)


def test_what_needs_a_word_says_which() -> None:
    for what in ("move", "swap", "pressure"):
        with pytest.raises(BadInput, match="say"):
            edit_of(what, "p03", None)
