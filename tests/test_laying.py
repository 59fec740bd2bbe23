"""A track as the bars of a routine: whole, gapless, on its own beats, and as long as asked."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from heard_tracks import ambient, brief_of, heards, steady, track_second
from rondel.model.track import Heard, Laid, Span
from rondel.music.laying import lay_out

minutes = st.sampled_from((3, 4.5, 8, 15, 20))


@settings(max_examples=40, deadline=None)
@given(heards(), minutes)
def test_beats_rise_from_the_first_second_and_last_as_long_as_asked(
    heard: Heard, asked: float
) -> None:
    laid = lay_out(heard, brief_of(asked))
    assert laid.beat_seconds[0] == 0
    assert all(a < b for a, b in pairwise(laid.beat_seconds))
    assert len(laid.beat_seconds) == laid.bars * laid.beats_per_bar + 1
    # Rule `length`: within one bar where a track fixes the tempo.
    assert abs(laid.total_seconds - asked * 60) <= laid.total_seconds / laid.bars


@settings(max_examples=40, deadline=None)
@given(heards(), minutes)
def test_pieces_follow_each_other_without_a_gap_and_lie_within_the_track(
    heard: Heard, asked: float
) -> None:
    laid = lay_out(heard, brief_of(asked))
    course = laid.course
    assert 0 <= course.pieces[0].at < laid.bar_starts[1]
    for before, piece in pairwise(course.pieces):
        assert piece.at == pytest.approx(before.end, abs=1e-5)
    for piece in course.pieces:
        assert 0 <= piece.source.start < piece.source.end <= heard.seconds
    last = course.pieces[-1].end
    if course.tail_from is None:
        # The music may end with its last ring, less than a bar before the routine.
        assert laid.bar_starts[-2] - 1e-6 <= last <= laid.total_seconds + 1e-5
    else:
        assert course.tail_from < laid.total_seconds


@settings(max_examples=40, deadline=None)
@given(heards(), minutes)
def test_beats_of_the_session_are_beats_of_the_track(heard: Heard, asked: float) -> None:
    """Nothing drifts, whatever is played again or passed over: told by the pieces alone."""
    laid = lay_out(heard, brief_of(asked))
    truth = np.array(heard.beats)
    truth = np.sort(np.concatenate([truth, (truth[1:] + truth[:-1]) / 2]))  # slow beats are halved
    for bar, is_heard in enumerate(laid.course.heard):
        if not is_heard:
            continue
        for beat in laid.beat_seconds[bar * laid.beats_per_bar : (bar + 1) * laid.beats_per_bar]:
            second = track_second(laid.course, beat)
            if second is not None and truth[0] <= second <= truth[-1]:
                assert np.abs(truth - second).min() < 1e-4


@settings(max_examples=40, deadline=None)
@given(heards(), minutes)
def test_what_is_told_of_bars_lies_within_them_and_is_the_same_each_time(
    heard: Heard, asked: float
) -> None:
    laid = lay_out(heard, brief_of(asked))
    course = laid.course
    assert lay_out(heard, brief_of(asked)) == laid
    assert course.phrases[0] == 0
    for bars in (course.phrases, course.turns, course.homes):
        assert all(0 <= bar < laid.bars for bar in bars)
    first, past = course.strongest
    assert 0 <= first < past <= laid.bars
    assert course.fade_seconds < laid.total_seconds


def test_a_track_that_fits_is_played_as_it_is() -> None:
    sections = ((0.0, 0.0), (96.0, 0.5), (380.0, 1.0), (500.0, 0.3))
    laid = lay_out(steady(600, sections=sections), brief_of(10))
    assert [(p.source, p.at) for p in laid.course.pieces] == [(Span(start=0, end=600), 0)]
    assert laid.says == ()
    assert laid.beat_seconds == tuple(float(i) for i in range(601))
    # 4 beats at 60 are 4 seconds: bars 24, 95 and 125; phrases of four from each on.
    assert laid.course.turns == (24, 95, 125)
    assert {24, 28, 92, 95, 99, 125} <= set(laid.course.phrases)
    assert laid.course.strongest == (95, 125)
    assert laid.course.stands_out
    assert laid.course.fade_seconds == 0


def test_a_longer_track_loses_a_stretch_but_keeps_opening_summit_and_end() -> None:
    sections = ((0.0, 0.0), (96.0, 0.4), (480.0, 1.0), (600.0, 0.4), (720.0, 0.1))
    quiet = (Span(start=0, end=96),)
    laid = lay_out(steady(780, sections=sections, beatless=quiet), brief_of(10))
    course = laid.course
    assert abs(laid.total_seconds - 600) <= 4
    assert course.quiet_bars * 4 >= 90
    first, past = course.strongest
    assert past - first >= 20
    assert 0.5 < (first + past) / 2 / laid.bars < 0.9
    assert any("left out" in says for says in laid.says)
    assert laid.says[0] == "The track is 3:00 longer than the brief asks for."


def test_a_shorter_track_plays_a_stretch_again() -> None:
    sections = ((0.0, 0.0), (64.0, 0.4), (192.0, 1.0), (256.0, 0.2))
    laid = lay_out(steady(320, sections=sections), brief_of(10))
    assert abs(laid.total_seconds - 600) <= 4
    assert any("is played again" in says for says in laid.says)
    assert laid.says[0] == "The track is 4:40 shorter than the brief asks for."


def test_a_short_opening_without_a_beat_is_kept_whole() -> None:
    """The rule `quiet`: as far as the track has such a span at its start."""
    for seed in range(8):
        heard = ambient(seed, 700)
        for asked in (5, 8, 10):
            laid = lay_out(heard, brief_of(asked))
            has = min(heard.beatless[0].end, 90.0 * min(1, asked / 6))
            begins = laid.bar_starts[laid.course.quiet_bars]
            assert begins >= has - laid.total_seconds / laid.bars - 0.01


def test_a_track_without_a_beat_gets_a_tempo_of_its_own_and_a_sentence() -> None:
    heard = Heard(seconds=400, bpm=0, is_constant=False, beats_per_bar=4, beats=(), downbeats=())
    laid = lay_out(heard, brief_of(6, "sleep"))
    assert not any(laid.course.heard)
    # Rule `length`: 54 beats a minute to sleep.
    assert laid.beat_seconds[1] == pytest.approx(60 / 54)
    assert laid.says[0].startswith("No beat was found in the track")


@pytest.mark.parametrize(
    ("bpm", "per_bar", "asked", "then", "beats", "says"),
    [
        (30, 4, None, 60, 4, "is slow, so the routine counts two to each: 60 a minute"),
        (140, 4, None, 70, 4, "counts every second one: 70 a minute"),
        (150, 3, None, 50, 4, "counts every third one: 50 a minute"),  # one to a bar of a waltz
        (110, 4, Fraction(55), 55, 4, "counts every second one"),
        (72, 3, None, 72, 3, ""),
        (66, 2, None, 66, 4, ""),  # two bars of two become one of four
    ],
)
def test_a_slow_or_quick_beat_is_counted_so_that_hands_can_follow(
    bpm: float, per_bar: int, asked: Fraction | None, then: float, beats: int, says: str
) -> None:
    laid = lay_out(steady(480, bpm=bpm, beats_per_bar=per_bar), brief_of(8, bpm=asked))
    assert float(laid.bpm) == pytest.approx(then, rel=0.02)
    assert laid.beats_per_bar == beats
    assert says in " ".join(laid.says)
    assert bool(says) or not any("counts" in told for told in laid.says)


def test_a_beat_that_begins_late_or_pauses_is_carried_through_in_step() -> None:
    """Eight bars of pause in which no beat was heard: the bar line after it is that before it."""
    whole = steady(400, bpm=60)
    kept = tuple(b for b in whole.beats if b >= 80 and not 200 <= b < 232)
    heard = Heard(
        seconds=400,
        bpm=60,
        is_constant=True,
        beats_per_bar=4,
        beats=kept,
        downbeats=tuple(b for b in kept if b % 4 == 0),
        beatless=(Span(start=0, end=80), Span(start=200, end=232)),
    )
    laid = lay_out(heard, brief_of(Fraction(400, 60)))
    assert laid.beat_seconds == pytest.approx([float(i) for i in range(401)])
    assert laid.course.quiet_bars == 20
    assert laid.course.heard[50:58] == (False,) * 8


def test_a_drifting_beat_is_followed_and_its_drift_told() -> None:
    drifting = next(h for s in range(20) if not (h := ambient(s, 400)).is_constant)
    laid = lay_out(drifting, brief_of(drifting.seconds / 60))
    assert 0.005 < laid.drift < 0.08
    steps = np.diff(laid.bar_starts[:-1])
    assert steps.max() / steps.min() > 1.01
    constant = next(h for s in range(20) if (h := ambient(s, 400)).is_constant)
    assert lay_out(constant, brief_of(6)).drift == 0


def test_a_pickup_is_not_cut_off() -> None:
    """Three beats before the first bar line: a bar of which the first beat is silent."""
    beats = tuple(i + 0.0 for i in range(300))
    heard = Heard(
        seconds=300,
        bpm=60,
        is_constant=True,
        beats_per_bar=4,
        beats=beats,
        downbeats=beats[3::4],
    )
    laid: Laid = lay_out(heard, brief_of(5))
    assert laid.course.pieces[0].at == pytest.approx(1.0)
    assert laid.course.pieces[0].source.start == 0


def test_a_very_short_track_comes_round_and_round_and_that_is_said() -> None:
    sections = ((0.0, 0.2), (32.0, 0.8), (96.0, 0.2))
    laid = lay_out(steady(128, sections=sections), brief_of(12))
    assert abs(laid.total_seconds - 720) <= 4
    assert "comes round about" in laid.says[-1]
