"""What things are called is said once, and said alike everywhere."""

from __future__ import annotations

from dataclasses import replace

import pytest

import page_samples as samples
from rondel.documents.chapters import chapter_spans
from rondel.drawing.frames.words import passage_names
from rondel.drawing.page_words import name_of
from rondel.model.names import OPEN_NAME, POSITION_SAYS, lying_says, passage_name
from rondel.model.words import NamesShown, Position

ROUTINE, CRAFT = samples.lamplight(), samples.CRAFT


@pytest.mark.parametrize("shown", [NamesShown.PLAIN, NamesShown.ANATOMICAL])
def test_page_video_and_chapters_call_a_passage_the_same(shown: NamesShown) -> None:
    assert ROUTINE.brief is not None
    routine = replace(ROUTINE, brief=replace(ROUTINE.brief, names=shown))
    titles = [c.title for c in chapter_spans(routine, CRAFT)]
    for passage in routine.line:
        name = passage_name(passage, CRAFT, shown)
        assert name[0].isupper()
        assert name == name_of(passage, CRAFT, shown)
        assert name == passage_names(routine, passage, CRAFT)[0]
        assert name in titles or f"Home: {name}" in titles or passage.role == "refrain"


def test_a_passage_nobody_knows_is_called_by_its_id_in_words() -> None:
    passage = replace(ROUTINE.passages[1], technique="moon-walk")
    assert passage_name(passage, CRAFT, NamesShown.BOTH) == "Moon walk"
    assert passage_name(replace(passage, technique=None), CRAFT, NamesShown.BOTH) == OPEN_NAME


def test_every_position_has_its_words() -> None:
    assert set(POSITION_SAYS) == set(Position)
    assert lying_says(Position.PRONE) == "lying face down"
    assert lying_says(Position.SEATED) == "sitting"
