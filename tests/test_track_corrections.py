"""What a teacher puts right in a track wins; twice is once; taken back, it leaves no trace."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rondel.cli.put_in import taps_in
from rondel.listening.corrections import (
    moved_once,
    with_bars_at,
    with_beats_per_bar,
    with_moved,
    with_presence,
    with_strongest,
    with_tempo,
)
from rondel.listening.taps import with_taps
from rondel.model.codec.corrections import (
    corrections_from_dict,
    corrections_text,
    moved_of,
    taps_of,
)
from rondel.model.codec.moments import moment, moment_says, span_of
from rondel.model.corrections import FORGETTABLE, NONE, Corrections, Moved
from rondel.model.errors import BadInput
from rondel.model.stretches import joined, less, shared_seconds
from rondel.model.track import Heard, Section, Span

milliseconds = st.integers(0, 600_000).map(lambda ms: ms / 1000)
spans = st.lists(milliseconds, min_size=2, max_size=2, unique=True).map(
    lambda pair: Span(start=min(pair), end=max(pair))
)
rising = st.lists(milliseconds, max_size=6, unique=True).map(lambda row: tuple(sorted(row)))
several = st.lists(spans, max_size=3).map(joined)


@st.composite
def all_corrections(draw: st.DrawFn) -> Corrections:
    taps = draw(rising.filter(lambda row: len(row) == 0 or len(row) >= 4))
    sounding = draw(several)
    moves = draw(st.lists(st.tuples(milliseconds, milliseconds), max_size=3))
    return Corrections(
        bpm=None if taps else draw(st.none() | st.integers(200, 3000).map(lambda n: n / 10)),
        taps=taps,
        beats_per_bar=draw(st.none() | st.integers(1, 16)),
        bars_at=draw(rising),
        moved=tuple(Moved(of=of, to=to) for of, to in dict(moves).items()),
        motif=draw(st.none() | spans),
        strongest=draw(st.none() | milliseconds),
        with_beat=sounding,
        without_beat=less(draw(several), sounding),
    )


def track(
    *, bpm: float = 60.0, beats: int = 64, first: float = 1.0, drift: float = 0.0, bar: int = 4
) -> Heard:
    """Return a track whose beats are known exactly; `drift` is added to each interval."""
    seconds, row = first, []
    for beat in range(beats):
        row.append(seconds)
        seconds += 60 / bpm + drift * beat
    third = row[-1] / 3
    return Heard(
        seconds=row[-1] + 2,
        bpm=bpm,
        is_constant=drift == 0,
        beats_per_bar=bar,
        beats=tuple(row),
        downbeats=tuple(row[::bar]),
        beatless=(Span(start=0.0, end=10.0),),
        unsure=(Span(start=30.0, end=34.0),),
        sections=(
            Section(span=Span(start=0.0, end=third), energy=0.2, has_beat=True),
            Section(span=Span(start=third, end=2 * third), energy=0.9, has_beat=True),
            Section(span=Span(start=2 * third, end=row[-1] + 2), energy=0.4, has_beat=True),
        ),
    )


def second_of(heard: Heard, count: float) -> float:
    """Return where `count` beats from the first one have gone by."""
    here, there = heard.beats[int(count)], heard.beats[int(count) + 1]
    return here + (count % 1) * (there - here)


tracks = st.builds(
    track,
    bpm=st.integers(50, 110).map(float),
    beats=st.integers(40, 90),
    first=st.integers(0, 30).map(lambda n: n / 10),
    drift=st.integers(-2, 2).map(lambda n: n / 2000),
    bar=st.sampled_from((3, 4)),
)


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(all_corrections())
def test_corrections_are_the_same_after_their_file(corrections: Corrections) -> None:
    text = corrections_text(corrections)
    assert corrections_from_dict(tomllib.loads(text)) == corrections


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(all_corrections())
def test_saying_all_again_changes_nothing(corrections: Corrections) -> None:
    assert corrections.then(corrections) == corrections
    assert NONE.then(corrections) == corrections.then(NONE) == corrections


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(all_corrections(), all_corrections())
def test_what_is_said_later_wins(earlier: Corrections, later: Corrections) -> None:
    both = earlier.then(later)
    assert both.then(later) == both
    assert set(later.moved) <= set(both.moved)
    assert less(later.with_beat, both.with_beat) == ()
    assert less(later.without_beat, both.without_beat) == ()


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(all_corrections())
def test_every_kind_can_be_taken_back(corrections: Corrections) -> None:
    for kind in FORGETTABLE:
        corrections = corrections.forgetting(kind)
    assert corrections.is_empty


def test_a_tempo_takes_the_place_of_taps_and_taps_of_a_tempo() -> None:
    tempo, taps = Corrections(bpm=60.0), Corrections(taps=(1.0, 2.0, 3.0, 4.0))
    assert tempo.then(taps) == taps
    assert taps.then(tempo) == tempo


@given(several, several)
def test_stretches_are_taken_away_exactly(ones: tuple[Span, ...], others: tuple[Span, ...]) -> None:
    left = less(ones, others)
    assert sum(shared_seconds(span, others) for span in left) == pytest.approx(0, abs=1e-9)
    both = sum(shared_seconds(span, others) for span in ones)
    whole = sum(span.seconds for span in ones)
    assert sum(span.seconds for span in left) + both == pytest.approx(whole)
    assert less(left, others) == left


@given(milliseconds)
def test_a_moment_is_the_same_after_it_is_written(seconds: float) -> None:
    assert moment(moment_says(seconds)) == seconds


@pytest.mark.parametrize("words", ["", "1:2:3:4", "1:75", "soon", "-3", "1:-3", "1:70:00"])
def test_what_is_no_moment_is_refused(words: str) -> None:
    with pytest.raises(ValueError, match="must be a time"):
        moment(words)


def test_moments_and_taps_are_read_as_people_write_them() -> None:
    assert (moment("62.5"), moment("1:02.5"), moment("1:01:02.5")) == (62.5, 62.5, 3662.5)
    assert span_of(" 1:02 – 1:18 ") == Span(start=62.0, end=78.0)
    assert taps_of("# tapped on Sunday\n1.0, 2.02\n0:03.1 4") == (1.0, 2.02, 3.1, 4.0)
    with pytest.raises(ValueError, match="each tap"):
        taps_of("1 2 three")


@pytest.mark.parametrize(
    ("text", "taps"),
    [
        ("10,9 11,7 12,5 13,3", (10.9, 11.7, 12.5, 13.3)),  # a comma as the decimal point
        ("0,5\n1,0 # late\n1,5", (0.5, 1.0, 1.5)),
        ("0:09,5, 0:10,3, 0:11,1", (9.5, 10.3, 11.1)),
        ("10,11,12,13", (10.0, 11.0, 12.0, 13.0)),  # commas between taps
        ("0.5,1.0,1.5", (0.5, 1.0, 1.5)),
        ("1:02,1:03", (62.0, 63.0)),
    ],
)
def test_a_comma_is_a_decimal_point_where_only_that_makes_taps(
    text: str, taps: tuple[float, ...]
) -> None:
    assert taps_of(text) == taps


@pytest.mark.parametrize("text", ["10,11 12,13", "10,9,11,7", "3,1,2"])
def test_taps_that_can_be_read_in_two_ways_or_in_none_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not clear whether the comma in "):
        taps_of(text)


@pytest.mark.parametrize("text", ["", " \n", "# nothing tapped"])
def test_no_taps_are_refused(text: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="there are no taps"):
        taps_of(text)
    path = tmp_path / "taps.txt"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput, match=r"taps.txt: there are no taps"):
        taps_in(str(path))
    with pytest.raises(BadInput, match=r"^taps: there are no taps|as a list there are no taps"):
        taps_in(text)


@given(tracks)
def test_counting_twice_as_fast_keeps_every_beat_and_puts_one_between(heard: Heard) -> None:
    fast = with_tempo(heard, heard.bpm * 2)
    first = next(k for k in (0, 1) if abs(fast.beats[k] - heard.beats[0]) < 1e-9)
    assert fast.beats[first::2][: len(heard.beats)] == pytest.approx(heard.beats)
    middles = [(a + b) / 2 for a, b in pairwise(heard.beats)]
    assert fast.beats[first + 1 :: 2][: len(middles)] == pytest.approx(middles)
    for down in heard.downbeats:
        assert min(abs(down - other) for other in fast.downbeats) < 1e-9
    assert with_tempo(fast, heard.bpm * 2) == fast


@given(tracks, st.sampled_from((0.5, 1 / 3, 2 / 3, 1.5, 3.0, 2.0, 1.0)))
def test_a_tempo_said_twice_is_said_once(heard: Heard, ratio: float) -> None:
    once = with_tempo(heard, heard.bpm * ratio)
    assert with_tempo(once, heard.bpm * ratio) == once
    assert once.bpm == pytest.approx(heard.bpm * ratio)


@given(tracks)
def test_half_as_fast_keeps_every_other_beat_from_the_first_bar(heard: Heard) -> None:
    slow = with_tempo(heard, heard.bpm / 2)
    assert slow.beats == pytest.approx(heard.beats[::2])
    assert slow.downbeats == pytest.approx(heard.downbeats[::2])


def test_a_tempo_that_nothing_was_heard_at_is_refused() -> None:
    with pytest.raises(BadInput, match="counted at 77 a minute"):
        with_tempo(track(bpm=60), 77)


@given(tracks, st.integers(0, 30))
def test_a_bar_begins_where_it_is_said_to(heard: Heard, beat: int) -> None:
    said = heard.beats[beat] + 0.04
    put = with_bars_at(heard, (said,))
    assert put.beats == heard.beats
    assert heard.beats[beat] in put.downbeats
    assert set(put.downbeats) == set(heard.beats[beat % heard.beats_per_bar :: heard.beats_per_bar])
    assert with_bars_at(put, (said,)) == put


def test_a_bar_that_begins_between_beats_moves_the_beats() -> None:
    heard = track(bpm=60, beats=10, first=1.0)
    put = with_bars_at(heard, (3.5,))
    assert put.beats == pytest.approx([0.5 + k for k in range(11)])
    assert put.downbeats == pytest.approx([3.5, 7.5])
    assert with_bars_at(put, (3.5,)) == put


def test_each_bar_said_rules_until_the_next() -> None:
    heard = track(bpm=60, beats=16, first=0.0)
    put = with_bars_at(heard, (1.0, 7.0))
    assert put.downbeats == (1.0, 5.0, 7.0, 11.0, 15.0)


def test_other_bars_are_counted_from_the_first() -> None:
    heard = track(bpm=60, beats=13, first=2.0)
    put = with_beats_per_bar(heard, 3)
    assert put.downbeats == (2.0, 5.0, 8.0, 11.0, 14.0)
    assert with_beats_per_bar(put, 3) == put


@given(tracks, st.sampled_from((0.5, 1.0, 2.0)), st.integers(0, 3), st.integers(0, 2**16))
def test_taps_a_little_early_and_unsteady_choose_among_the_beats(
    heard: Heard, ratio: float, offset: int, seed: int
) -> None:
    # Hands come about 30 ms early and 25 ms unsteady: common figures, from memory.
    step = 1 / ratio
    counts = [5 + (offset if ratio <= 1 else 0) + k * step for k in range(12)]
    exact = [second_of(heard, count) for count in counts]
    wobble = [((seed >> k) % 3 - 1) * 0.025 - 0.03 for k in range(12)]
    put = with_taps(heard, tuple(e + w for e, w in zip(exact, wobble, strict=True)))
    for second in exact:
        assert min(abs(second - beat) for beat in put.beats) < 1e-6
    assert put.bpm == pytest.approx(heard.bpm * ratio)
    assert with_taps(put, tuple(e + w for e, w in zip(exact, wobble, strict=True))) == put


def test_taps_between_the_beats_move_them() -> None:
    heard = track(bpm=60, beats=40, first=1.0)
    taps = tuple(10.48 + k for k in range(10))
    put = with_taps(heard, taps)
    assert all(min(abs(tap - beat) for beat in put.beats) < 0.03 for tap in taps)
    assert with_taps(put, taps) == put


def test_taps_that_go_with_no_beat_are_the_beats() -> None:
    heard = track(bpm=60, beats=60, first=1.0)
    taps = tuple(10 + k * 0.73 for k in range(20))
    put = with_taps(heard, taps)
    assert put.bpm == pytest.approx(60 / 0.73, rel=1e-6)
    assert all(min(abs(tap - beat) for beat in put.beats) < 1e-6 for tap in taps)
    assert put.beats[0] < 0.73
    assert put.beats[-1] > put.seconds - 0.73
    assert with_taps(put, taps) == put


def test_taps_alone_make_the_beats_where_none_was_heard() -> None:
    nothing = Heard(
        seconds=30.0, bpm=0.0, is_constant=False, beats_per_bar=4, beats=(), downbeats=()
    )
    taps = (4.0, 5.0, 6.0, 8.0, 9.0, 10.0)  # one was left out
    put = with_taps(nothing, taps)
    assert put.beats == pytest.approx([float(k) for k in range(31)])
    assert put.downbeats == pytest.approx([float(k) for k in range(0, 31, 4)])


@pytest.mark.parametrize(
    ("taps", "says"),
    [
        ((1.0, 2.0, 3.0, 400.0), "after the end"),
        ((1.0, 1.1, 1.2, 1.3), "seconds apart"),
        ((1.0, 1.3, 3.9, 4.2, 6.0, 6.3, 9.9), "no steady beat"),
    ],
)
def test_taps_that_are_no_beat_are_refused(taps: tuple[float, ...], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        with_taps(track(), taps)


def test_where_a_beat_is_is_as_the_teacher_says() -> None:
    heard = track(bpm=60, beats=64)
    put = with_presence(
        heard,
        Corrections(with_beat=(span_of("0:05-0:20"),), without_beat=(span_of("0:31-0:43"),)),
    )
    assert put.beatless == (Span(start=0.0, end=5.0), Span(start=31.0, end=43.0))
    assert put.unsure == (Span(start=30.0, end=31.0),)
    # The second section is from 21.3 to 42.7: more than half of it is without a beat now.
    assert [section.has_beat for section in put.sections] == [True, False, True]
    assert with_presence(heard, NONE) == heard


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tracks, all_corrections())
def test_where_a_beat_is_said_twice_is_said_once(heard: Heard, said: Corrections) -> None:
    reach = heard.beats_per_bar * max(b - a for a, b in pairwise(heard.beats))
    first, last = heard.beats[0] - reach, heard.beats[-1] + reach
    try:
        once = with_presence(heard, said)
    except BadInput:  # a beat is to be where none are counted
        assert any(
            span.end < heard.beats[0] or span.start > heard.beats[-1] for span in said.with_beat
        )
        return
    assert all(span.end >= first and span.start <= last for span in said.with_beat)
    assert with_presence(once, said) == once


def test_a_section_begins_where_it_is_moved_to() -> None:
    heard = replace(
        track(),
        sections=tuple(
            Section(span=Span(start=a, end=b), energy=0.5, has_beat=True)
            for a, b in ((0.0, 20.0), (20.0, 40.0), (40.0, 66.0))
        ),
    )
    moved = (moved_of("0:21=0:23.5"),)
    put = with_moved(heard, moved)
    assert [s.span.start for s in put.sections] == [0.0, 23.5, 40.0]
    assert [s.span.end for s in put.sections] == [23.5, 40.0, 66.0]
    assert with_moved(put, moved) == put
    for words, says in (
        (
            "0:30=0:31",
            r"no section begins about 0:30; the nearest begins at 0:20 \(of 0:20, 0:40\)",
        ),
        ("0:20=0:50", "not between 0:01 and 0:39"),
    ):
        with pytest.raises(BadInput, match=says):
            moved_once(heard.sections, moved_of(words))


def test_what_she_calls_strongest_is() -> None:
    rows = ((0.0, 20.0, 1.0), (20.0, 40.0, 0.4), (40.0, 66.0, 0.95))
    sections = tuple(
        Section(span=Span(start=a, end=b), energy=energy, has_beat=True) for a, b, energy in rows
    )
    heard = replace(track(), sections=sections)
    put = with_strongest(heard, 31.5)
    assert [s.energy for s in put.sections] == [0.9, 1.0, 0.9]
    assert [s.span for s in put.sections] == [s.span for s in sections]
    assert with_strongest(put, 31.5) == put
    assert with_strongest(heard, None) == heard
    with pytest.raises(BadInput, match="no section is heard at 1:10"):
        with_strongest(heard, 70.0)


SLIPS = [
    ("bpm = 500\n", "bpm: is 500, but must be from 20 to 300"),
    ('bpm = 60\ntaps = ["1", "2", "3", "4"]\n', "either taps or bpm"),
    ('taps = ["1", "2"]\n', "4 taps or more"),
    ('bars_at = ["2", "1"]\n', "bars must begin one after the other"),
    ('motif = "1:18-1:02"\n', 'motif: "1:18-1:02" must be from one time to a later one'),
    ('moved = ["1:30"]\n', "must say which section"),
    ('bar_at = ["1"]\n', 'did you mean "bars_at"?'),
    ('with_beat = ["0-9"]\nwithout_beat = ["8-9"]\n', "both with and without a beat"),
]


@pytest.mark.parametrize(("text", "says"), SLIPS)
def test_a_slip_in_a_file_of_corrections_is_named(text: str, says: str) -> None:
    with pytest.raises(BadInput) as error:
        corrections_from_dict(tomllib.loads(text), at="evening.corrections.toml")
    assert "evening.corrections.toml" in str(error.value)
    assert says in str(error.value)
