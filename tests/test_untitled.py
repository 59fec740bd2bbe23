"""A routine that nobody gave a title bears one word for it, and the same one everywhere."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from cue_routines import lot_routine
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.follow_files import follow_template
from rondel.app.make_follow import make_follow
from rondel.app.make_paper import cards_job, page_job
from rondel.app.ports.voice import Speech
from rondel.documents.cut_list import cut_list
from rondel.drawing.figure import still
from rondel.drawing.frames.words import card_heads
from rondel.drawing.page import draw_page
from rondel.drawing.page_measure import A4
from rondel.model.brief import UNTITLED
from rondel.model.codec.brief import brief_from_dict
from rondel.model.codec.routine import routine_from_dict, routine_to_dict
from rondel.music.compose import compose

CRAFT = builtin_craft()
#: Nothing that can be seen: no letter, a space, a tab, a zero-width space, a control sign.
EMPTY = ("", "  ", "\t", "\u200b", "\x00")


@pytest.mark.parametrize("title", EMPTY)
def test_a_title_that_cannot_be_seen_is_no_title(title: str) -> None:
    brief = {"minutes": 15, "intention": "settle", "title": title}
    assert brief_from_dict(brief).title == UNTITLED
    data = {**routine_to_dict(lot_routine(4)), "title": title}
    assert routine_from_dict(data).title == UNTITLED
    assert replace(lot_routine(4), title=title).title == UNTITLED


@pytest.mark.parametrize("title", ["Lamplight", " Salt ", "0", "夜", "…"])
def test_a_title_that_can_be_seen_stays_as_it_is(title: str) -> None:
    assert replace(lot_routine(4), title=title).title == title


def test_every_part_of_a_session_bears_the_same_word() -> None:
    routine = replace(lot_routine(4), title="")
    written: dict[Path, str] = {}
    make_follow(
        routine, CRAFT, Speech(), Path("s"), follow_template, lambda p, t: written.update({p: t})
    )
    follow = written[Path("s/follow/index.html")]
    assert "<title>Untitled: follow along</title>" in follow
    assert "<h1>Untitled</h1>" in follow
    page = draw_page(routine, CRAFT)
    assert ">Untitled</text>" in page.svg
    assert page_job(routine, CRAFT, page.sheets, A4).words["title"] == "Untitled"
    assert cards_job(routine, CRAFT, A4, still).words["title"] == "Untitled: cards"
    assert card_heads(routine, 0)[0] == "Untitled"
    assert compose(routine, CRAFT).title == "Untitled"
    cut = cut_list(routine, CRAFT, rate=30, frames=27000, frame_at=lambda s: round(30 * s))
    assert json.loads(cut)["name"] == "Untitled"
    assert routine_to_dict(routine)["title"] == "Untitled"
