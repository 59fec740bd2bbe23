"""What was heard in a track, and its course in a routine, go out and come in the same."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from cases.reading import routine_from_rows
from rondel.model.codec.course import course_from_dict, course_to_dict
from rondel.model.codec.routine import routine_from_dict, routine_to_dict
from rondel.model.codec.schema import course_schema, schema
from rondel.model.codec.track import heard_from_dict, heard_to_dict
from rondel.model.errors import BadInput
from rondel.model.track import Course, Heard, OtherTempo, Piece, Section, Span

seconds = st.floats(0, 10_000, allow_nan=False)
shares = st.floats(0, 1, allow_nan=False)
rising = st.lists(seconds, max_size=8, unique=True).map(lambda row: tuple(sorted(row)))
spans = st.lists(seconds, min_size=2, max_size=2, unique=True).map(
    lambda pair: Span(start=min(pair), end=max(pair))
)
several_spans = st.lists(spans, max_size=3).map(tuple)
sections = st.builds(Section, span=spans, energy=shares, has_beat=st.booleans())
other_tempi = st.builds(
    OtherTempo,
    bpm=st.floats(20, 300),
    beats_per_bar=st.integers(1, 16),
    confidence=shares,
    says=st.text(max_size=20),
)
levels = st.none() | st.floats(-70, 3)
heards = st.builds(
    Heard,
    seconds=st.floats(0.5, 10_800),
    bpm=st.floats(20, 300),
    is_constant=st.booleans(),
    beats_per_bar=st.integers(1, 16),
    beats=rising,
    downbeats=rising,
    beatless=several_spans,
    unsure=several_spans,
    sections=st.lists(sections, max_size=3).map(tuple),
    returns=several_spans,
    rises=several_spans,
    others=st.lists(other_tempi, max_size=2).map(tuple),
    loudness=levels,
    true_peak=levels,
    confidence=shares,
    shape=st.lists(shares, max_size=5).map(tuple),
    motif_guesses=several_spans,
)


@given(heards)
def test_what_was_heard_is_the_same_after_a_file(heard: Heard) -> None:
    data = json.loads(json.dumps(heard_to_dict(heard)))
    assert heard_from_dict(data) == heard
    Draft202012Validator(schema("heard")).validate(data)


def test_a_heard_file_has_the_keys_that_other_programs_read() -> None:
    heard = Heard(
        seconds=8.0,
        bpm=60.0,
        is_constant=True,
        beats_per_bar=4,
        beats=(0.0, 1.0),
        downbeats=(0.0,),
        beatless=(Span(start=2.0, end=8.0),),
        sections=(Section(span=Span(start=0.0, end=8.0), energy=0.5, has_beat=True),),
        rises=(Span(start=1.0, end=2.0),),
    )
    data = heard_to_dict(heard)
    agreed = {"bpm", "beats", "downbeats", "beatless", "sections", "returns", "rises"}
    assert agreed | {"confidence"} <= set(data)
    assert data["beatless"] == [[2.0, 8.0]]
    assert data["sections"] == [{"start": 0.0, "end": 8.0, "energy": 0.5, "has_beat": True}]


def test_a_heard_file_with_the_agreed_keys_only_is_read() -> None:
    plain: dict[str, object] = {
        "bpm": 60,
        "beats": [0.5, 1.5, 2.5, 3.5],
        "downbeats": [0.5],
        "beatless": [],
        "sections": [],
        "returns": [],
        "rises": [],
        "confidence": 0.5,
    }
    heard = heard_from_dict(plain)
    assert (heard.seconds, heard.beats_per_bar) == (3.5, 4)


COURSES = st.integers(1, 12).flatmap(
    lambda bars: st.builds(
        Course,
        heard=st.lists(st.booleans(), min_size=bars, max_size=bars).map(tuple),
        energy=st.lists(shares, min_size=bars, max_size=bars).map(tuple),
        phrases=st.sets(st.integers(0, bars)).map(lambda row: tuple(sorted(row))),
        turns=st.sets(st.integers(0, bars)).map(lambda row: tuple(sorted(row))),
        homes=st.sets(st.integers(0, bars)).map(lambda row: tuple(sorted(row))),
        strongest=st.integers(0, bars - 1).flatmap(
            lambda first: st.tuples(st.just(first), st.integers(first + 1, bars))
        ),
        stands_out=st.booleans(),
        pieces=st.lists(st.builds(Piece, source=spans, at=seconds), max_size=3).map(tuple),
        tail_from=st.none() | seconds,
        fade_seconds=st.floats(0, 30),
    )
)


@given(COURSES)
def test_a_course_is_the_same_after_a_file(course: Course) -> None:
    data = json.loads(json.dumps(course_to_dict(course)))
    assert course_from_dict(data) == course
    Draft202012Validator(course_schema()).validate(data)


SLIPS: list[tuple[Callable[[dict[str, Any]], object], str]] = [
    (lambda d: d.pop("bpm"), "heard.json: bpm: this key is needed"),
    (lambda d: d.update(beats=[2, 1]), "beats must rise"),
    (lambda d: d.update(beats=["one"]), 'beats: number 1: must be a number, not "one"'),
    (lambda d: d.update(beatless=[[3, 2]]), "beatless: from 3.0 to 2.0 is no span"),
    (lambda d: d.update(confidence=2), "confidence: is 2, but must be from 0 to 1"),
    (lambda d: d.update(seconds=0), "a track lasts"),
    (lambda d: d.update(sections=[{"start": 2, "end": 1, "energy": 0, "has_beat": True}]), "span"),
    (lambda d: d.update(others=7), "others: must be a list"),
]


@pytest.mark.parametrize(("slip", "says"), SLIPS)
def test_a_slip_in_a_heard_file_is_named(
    slip: Callable[[dict[str, Any]], object], says: str
) -> None:
    data: dict[str, Any] = {"bpm": 60.0, "beats": [0.0, 1.0], "downbeats": [0.0], "seconds": 4.0}
    assert heard_from_dict(data).bpm == 60
    slip(data)
    with pytest.raises(BadInput, match="heard") as error:
        heard_from_dict(data)
    assert says in str(error.value)


def test_a_slip_in_a_course_is_named() -> None:
    data = course_to_dict(
        Course(
            heard=(True, True),
            energy=(0.0, 1.0),
            phrases=(0,),
            turns=(),
            homes=(),
            strongest=(1, 2),
            stands_out=True,
            pieces=(),
        )
    )
    for key, value, says in (
        ("energy", [0.0, 2.0], "energy: number 2: is 2.0, but must be from 0 to 1"),
        ("strongest", [1], "strongest: must be two bars"),
        ("strongest", [1, 9], "the strongest section lies within the bars"),
        ("heard", [True, "no"], "heard: place 2: must be true or false"),
    ):
        with pytest.raises(BadInput) as error:
            course_from_dict({**data, key: value})
        assert says in str(error.value)


def test_a_routine_carries_the_course_of_its_track() -> None:
    seconds = [k * 1.01 for k in range(9)]
    routine = routine_from_rows(["wide-wings work both 2 2"], beat_seconds=seconds)
    assert "course" not in json.dumps(routine_to_dict(routine))
    course = Course(
        heard=(False, True),
        energy=(0.1, 0.7),
        phrases=(0,),
        turns=(1,),
        homes=(),
        strongest=(1, 2),
        stands_out=False,
        pieces=(Piece(source=Span(start=3.0, end=11.0), at=0.0),),
    )
    with_course = replace(routine, music=replace(routine.music, course=course))
    data = json.loads(json.dumps(routine_to_dict(with_course)))
    assert routine_from_dict(data).music == with_course.music
    Draft202012Validator(schema("routine")).validate(data)
    data["music"]["course"].update(heard=[True], energy=[0.5], strongest=[0, 1])
    with pytest.raises(BadInput, match="music: course: tells of 1 bars, and the routine has 2"):
        routine_from_dict(data)
