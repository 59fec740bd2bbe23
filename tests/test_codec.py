"""Files go in and come out the same; whatever is wrong is named with file and key."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from rondel.model.brief import Brief, Keep
from rondel.model.codec.brief import brief_from_dict, brief_to_dict
from rondel.model.codec.routine import routine_from_dict, routine_to_dict
from rondel.model.codec.schema import SCHEMAS, schema
from rondel.model.errors import BadInput
from rondel.model.routine import Cue, Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import Contact, Intention, NamesShown, Position, Role, Side

decimals = st.integers(0, 4000).map(lambda n: Fraction(n, 100))
words = st.text(max_size=20)

keeps = st.builds(
    Keep,
    technique=words,
    at_seconds=st.none() | st.integers(0, 7_199_000).map(lambda ms: Fraction(ms, 1000)),
    minutes=st.none() | st.integers(1, 600).map(lambda n: Fraction(n, 10)),
    side=st.none() | st.sampled_from(Side),
    pressure=st.none() | st.integers(0, 5),
)
briefs = st.builds(
    Brief,
    title=words,
    minutes=st.integers(4100, 12000).map(lambda n: Fraction(n, 100)),
    intention=st.sampled_from(Intention),
    level=st.integers(1, 5),
    refrains=st.none() | st.integers(1, 30),
    main_regions=st.lists(words, max_size=3).map(tuple),
    spare=st.lists(st.sampled_from(Contact), max_size=3).map(tuple),
    stretch=st.booleans(),
    positions=st.lists(st.sampled_from(Position), max_size=2).map(tuple),
    open_minutes=decimals,
    seed=st.integers(0, 10**6),
    bpm=st.none() | st.integers(30, 200).map(Fraction),
    names=st.sampled_from(NamesShown),
    trained=st.booleans(),
    keep=st.lists(keeps, max_size=2).map(tuple),
)


@given(briefs)
def test_a_brief_written_and_read_again_is_the_same(brief: Brief) -> None:
    data = brief_to_dict(brief)
    assert brief_from_dict(data) == brief
    Draft202012Validator(schema("brief")).validate(data)


def small_routine(**changes: object) -> Routine:
    passage = Passage(
        id="p01",
        technique="wide-wings",
        role=Role.ARRIVE,
        side=Side.BOTH,
        position=Position.PRONE,
        start_bar=0,
        bars=9,
        pressure=1,
        beats_per_stroke=Fraction(1, 2),
        first_landing_beat=Fraction(0),
        why=("Because.",),
    )
    routine: dict[str, object] = {
        "title": "Small",
        "seed": 3,
        "beats_per_bar": 4,
        "tempo": (Tempo(bar=0, bpm=Fraction("60.25")),),
        "bars": 9,
        "passages": (passage,),
        "cues": (Cue(id="c01", at_beat=Fraction(5, 2), say="Begin."),),
    }
    return Routine(**{**routine, **changes})  # type: ignore[arg-type]


@given(st.none() | briefs)
def test_a_routine_written_and_read_again_is_the_same(brief: Brief | None) -> None:
    routine = small_routine(brief=brief)
    data = routine_to_dict(routine)
    assert routine_from_dict(data) == routine
    Draft202012Validator(schema("routine")).validate(data)


def test_every_schema_is_itself_valid() -> None:
    for name in SCHEMAS:
        Draft202012Validator.check_schema(schema(name))


GOOD: dict[str, object] = {"minutes": 15, "intention": "settle", "level": 2}

BAD_BRIEFS: list[tuple[dict[str, object], str]] = [
    ({"minutes": "15"}, "brief.toml: minutes: must be a number"),
    ({"minutes": 2}, "brief.toml: minutes: is 2, but must be from 3 to 120"),
    ({"minutes": float("nan")}, "brief.toml: minutes: must be a number"),
    ({"minutes": True}, "brief.toml: minutes: must be a number"),
    ({"intention": "setle"}, 'did you mean "settle"?'),
    ({"level": 2.5}, "brief.toml: level: must be a whole number"),
    ({"levle": 2}, 'levle: this key is not known; .* did you mean "level"'),
    ({"spare": "thumb"}, "brief.toml: spare: must be a list"),
    ({"spare": ["thumbs"]}, 'did you mean "thumb"'),
    ({"open_minutes": 15}, "open_minutes must be less than minutes"),
    ({"keep": [{"technique": "x", "at": "9.30"}]}, r'keep 1: at: must be a time .* "9:30"'),
    ({"keep": [{"technique": "x", "when": "9:30"}]}, "keep 1: when: this key is not known"),
    ({"stretch": "yes"}, "stretch: must be true or false"),
]


@pytest.mark.parametrize(("change", "says"), BAD_BRIEFS)
def test_what_is_wrong_in_a_brief_is_named(change: dict[str, object], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        brief_from_dict({**GOOD, **change})


def test_a_missing_key_is_named() -> None:
    with pytest.raises(BadInput, match=r"brief\.toml: minutes: this key is needed"):
        brief_from_dict({"intention": "settle"})


BAD_ROUTINES: list[tuple[Callable[[dict[str, Any]], object], str]] = [
    (lambda d: d.update(rondel=2), "rondel: is 2; this Rondel reads version 1"),
    (lambda d: d.update(passages=[]), "passages: there must be at least one"),
    (lambda d: d.update(passages=d["passages"] * 2), 'passages: the id "p01" stands twice'),
    (lambda d: d.update(tempo=[]), "the first tempo must stand at bar 0"),
    (lambda d: d.update(bars=0), "bars: is 0"),
    (lambda d: d.update(title="a\ud800b"), "title: holds half a letter"),
    (lambda d: d["passages"][0].update(beats_per_stroke=1e-9), "beats_per_stroke: is 1e-09"),
    (
        lambda d: d["passages"][0].update(first_landing_beat=1e300),
        "first_landing_beat: is 1e\\+300",
    ),
    (lambda d: d["cues"][0].update(at_beat=10**400), "at_beat: is 1000"),
    (lambda d: d.update(music={"kind": "track", "beat_seconds": [0, 1]}), "every beat"),
]


@pytest.mark.parametrize(("spoil", "says"), BAD_ROUTINES)
def test_what_is_wrong_in_a_routine_is_named(
    spoil: Callable[[dict[str, Any]], object], says: str
) -> None:
    data = routine_to_dict(small_routine())
    spoil(data)
    with pytest.raises(BadInput, match=says):
        routine_from_dict(data)


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers(-5, 300) | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3)
    ),
    max_leaves=8,
)


@given(st.dictionaries(st.sampled_from(sorted(routine_to_dict(small_routine()))), json_values))
def test_any_spoiled_routine_is_read_or_refused_in_words(spoiled: dict[str, object]) -> None:
    data = {**routine_to_dict(small_routine()), **spoiled}
    says = "routine.json"
    try:
        routine_from_dict(data)
    except BadInput as error:
        says = str(error)
    assert says.startswith("routine.json")
