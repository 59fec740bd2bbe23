"""Captions and chapters are valid WebVTT, readable in the time they stand, and never overlap.

Format: W3C WebVTT (https://www.w3.org/TR/webvtt1/). Reading: BBC subtitle guidelines (0.3 s a word
at least, two lines of 37 characters, gaps of a second at least or none). The foreign parser is
webvtt-py.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import webvtt
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from cue_routines import lot_routine
from rondel.adapters.craft_files import builtin_craft
from rondel.app.progress import Silent
from rondel.app.speak_cues import speak_cues
from rondel.cues.pace import estimate_seconds
from rondel.cues.wording import word_cues
from rondel.documents.captions import (
    Caption,
    broken_lines,
    caption_pieces,
    caption_spans,
)
from rondel.documents.chapters import chapter_spans
from rondel.documents.webvtt import captions, chapters, timestamp
from rondel.model.routine import Routine
from rondel.model.words import Intention, Role

CASES = [(1, 3.0), (2, 15.0), (3, 60.0)]
STAMP = r"\d{2}:[0-5]\d:[0-5]\d\.\d{3}"


class QuickVoice:
    """Says a text in five sixths of the time it is guessed to take."""

    def speak(self, text: str) -> tuple[NDArray[np.float32], int]:
        rate = 8000
        seconds = estimate_seconds(text) / 1.2
        return np.full(int(seconds * rate), 0.2, np.float32), rate


@dataclass(frozen=True)
class Said:
    cue_id: str
    text: str
    start_seconds: float
    end_seconds: float


@dataclass(frozen=True)
class Talk:
    spoken: tuple[Said, ...]


@cache
def told(seed: int, minutes: float) -> tuple[Routine, str, tuple[Caption, ...]]:
    routine = lot_routine(seed, minutes, Intention.SETTLE)
    routine = replace(routine, cues=word_cues(routine, builtin_craft()))
    speech = speak_cues(routine, None, QuickVoice(), Silent())
    return routine, captions(routine, speech), caption_spans(routine, speech)


def parsed(text: str) -> list[webvtt.Caption]:
    read: list[webvtt.Caption] = webvtt.from_buffer(io.StringIO(text)).captions
    return read


@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_foreign_parser_reads_what_we_wrote(case: tuple[int, float]) -> None:
    routine, text, spans = told(*case)
    read = parsed(text)
    assert [c.identifier for c in read] == [s.id for s in spans]
    for caption, span in zip(read, spans, strict=True):
        assert caption.text == span.text
        assert caption.start_in_seconds == pytest.approx(span.start_seconds, abs=1.001)
        assert caption.start == timestamp(round(span.start_seconds * 1000))
    titles = [c.text for c in parsed(chapters(routine, builtin_craft()))]
    assert titles == [c.title for c in chapter_spans(routine, builtin_craft())]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_the_file_keeps_to_the_letter_of_the_format(case: tuple[int, float]) -> None:
    routine, text, _ = told(*case)
    for file in (text, chapters(routine, builtin_craft())):
        head, *blocks = file.rstrip("\n").split("\n\n")
        assert head == "WEBVTT"
        assert "\r" not in file
        names = []
        for block in blocks:
            name, times, *lines = block.split("\n")
            names.append(name)
            assert re.fullmatch(rf"{STAMP} --> {STAMP}", times)
            assert lines
            assert all(line and "-->" not in line for line in (name, *lines))
            assert not re.search(r"[<>]|&(?!amp;|lt;|gt;)", "".join(lines))
        assert len(set(names)) == len(names)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_captions_never_overlap_and_leave_no_flicker_between_them(
    case: tuple[int, float],
) -> None:
    routine, _, spans = told(*case)
    assert all(s.end_seconds > s.start_seconds for s in spans)
    assert spans[-1].end_seconds <= routine.clock.total_seconds
    for one, after in pairwise(spans):
        gap = after.start_seconds - one.end_seconds
        assert gap == pytest.approx(0, abs=1e-9) or gap >= 1.0 - 1e-9, (one, after)


@pytest.mark.parametrize("case", CASES, ids=str)
def test_every_caption_can_be_read_in_its_time(case: tuple[int, float]) -> None:
    _, _, spans = told(*case)
    for span in spans:
        assert span.seconds >= 0.3 * len(span.text.split()) - 1e-9, span
        lines = span.text.split("\n")
        assert len(lines) <= 2
        assert all(len(line) <= 37 for line in lines), span


@pytest.mark.parametrize("case", CASES, ids=str)
def test_captions_begin_and_end_with_the_words(case: tuple[int, float]) -> None:
    routine, _, spans = told(*case)
    speech = speak_cues(routine, None, QuickVoice(), Silent())
    for said in speech.spoken:
        own = [s for s in spans if re.fullmatch(rf"{said.cue_id}(-\d+)?", s.id)]
        assert own[0].start_seconds == pytest.approx(said.start_seconds)
        assert own[-1].end_seconds >= said.end_seconds - 1e-9
        assert " ".join(s.text for s in own).replace("\n", " ") == said.text


@pytest.mark.parametrize("case", CASES, ids=str)
def test_chapters_cover_the_whole_session_without_overlap(case: tuple[int, float]) -> None:
    routine, _, _ = told(*case)
    spans = chapter_spans(routine, builtin_craft())
    assert spans[0].start_seconds == 0
    assert spans[-1].end_seconds == pytest.approx(routine.clock.total_seconds)
    for one, after in pairwise(spans):
        assert after.start_seconds == one.end_seconds
    assert sum(len(s.passages) for s in spans) == len(routine.line)
    homes = [s for s in spans if s.title.startswith("Home: ")]
    assert len(homes) == len(routine.refrains)
    at_home = {p.id for p in routine.line if p.role is Role.REFRAIN}
    assert {i for s in homes for i in s.passages} == at_home


def test_stamps_go_over_the_hour() -> None:
    # By hand: 3 723 004 ms are 1 h (3 600 s), 2 min (120 s), 3 s and 4 ms.
    assert timestamp(3_723_004) == "01:02:03.004"
    assert timestamp(0) == "00:00:00.000"


def test_names_are_kept_whole_where_a_line_breaks() -> None:
    assert broken_lines("And the other side: Dough Star, on their right.") == (
        "And the other side:",
        "Dough Star, on their right.",
    )


NASTY = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1)


@given(
    st.lists(
        st.tuples(st.one_of(NASTY, st.just("-->"), st.just("a --> b & <c>")), NASTY),
        min_size=1,
        max_size=8,
    )
)
def test_whatever_a_teacher_writes_gives_a_valid_file(rows: list[tuple[str, str]]) -> None:
    routine = lot_routine(1, 3.0)
    said = tuple(
        Said(cue_id=name, text=text, start_seconds=20.0 * n, end_seconds=20.0 * n + 12)
        for n, (text, name) in enumerate(rows)
    )
    text = captions(routine, Talk(said))
    spans = caption_spans(routine, Talk(said))
    assert text.count(" --> ") == len(spans)
    assert len({s.id for s in spans}) == len(spans)
    assert [c.identifier for c in parsed(text)] == [s.id for s in spans]
    for one, after in pairwise(spans):
        assert one.start_seconds < one.end_seconds <= after.start_seconds


@given(st.text(st.sampled_from("ab ,.?"), min_size=1, max_size=300))
def test_no_word_is_lost_when_captions_are_cut(text: str) -> None:
    pieces = caption_pieces(text) if text.strip() else ()
    letters = re.sub(r"\s", "", text)
    assert re.sub(r"\s", "", "".join(pieces)) == letters
    for piece in pieces:
        lines = broken_lines(piece)
        assert len(lines) <= 2
        assert all(len(line) <= 37 for line in lines)
