"""Sounds in which nothing beats are heard without a fault, and never told to have a beat.

Seeds from 900 on: neither tuned on nor in the benchmark (benchmarks/tracks/split.json).
"""

from __future__ import annotations

import warnings
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from ambient_tracks import make_track
from heard_tracks import brief_of
from rondel.adapters.beat_weights import builtin_network
from rondel.app.set_track import set_track
from rondel.drawing.heard_words import heard_sentences
from rondel.listening.beats import BeatsHeard, hear_beats
from rondel.listening.doubt import doubtful_spans
from rondel.listening.features import Features, FeatureStream
from rondel.listening.hearing import corrected, first_heard
from rondel.listening.steady import steady_grid
from rondel.model.corrections import Corrections
from rondel.model.stretches import less, shared_seconds
from rondel.model.track import Heard, Span
from rondel.music.track_bars import bars_of
from rondel.music.track_grid import grid_of
from unbeaten_tracks import KINDS, make_unbeaten

RATE = 22_050


def _features(sound: np.ndarray) -> Features:
    stream = FeatureStream(RATE)
    stream.feed(sound.astype(np.float32))
    return stream.features()


def _heard(sound: np.ndarray) -> BeatsHeard:
    return hear_beats(_features(sound), builtin_network())


def _sure_seconds(heard: BeatsHeard | Heard, start: float, end: float) -> float:
    """Return for how many seconds from `start` to `end` a beat is told without a doubt."""
    whole = (Span(start=start, end=end),)
    return sum(span.seconds for span in less(whole, (*heard.beatless, *heard.unsure)))


@pytest.mark.parametrize("kind", KINDS)
def test_where_nothing_beats_no_beat_is_told(kind: str) -> None:
    for seed in (900, 901):
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            heard = _heard(make_unbeaten(kind, seed, 60.0))
        assert _sure_seconds(heard, 0, 60) == 0, (kind, seed, heard.confidence)
        assert shared_seconds(Span(start=0, end=60), heard.unsure) == pytest.approx(
            60 - shared_seconds(Span(start=0, end=60), heard.beatless)
        )


def test_no_line_is_drawn_through_peaks_that_have_no_weight() -> None:
    at = np.arange(20, dtype=np.float64) * 0.8
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert steady_grid(at, np.zeros(20), 0.8) is None
        lone = np.zeros(20)
        lone[7] = 1.0
        assert steady_grid(at, lone, 0.8) is None
    grid = steady_grid(at, np.ones(20), 0.8)
    assert grid is not None
    assert grid.period == pytest.approx(0.8)


@cache
def _waves() -> tuple[Heard, Features]:
    features = _features(make_unbeaten("sea", 902, 60.0))
    return first_heard(features, builtin_network()), features


def test_on_waves_no_bar_is_heard_and_the_teacher_is_told() -> None:
    heard, _ = _waves()
    track = bars_of(heard, grid_of(heard, None, 60))
    assert not any(track.heard)
    told = " ".join(heard_sentences(heard))
    assert "Nowhere is it sure that there is a beat" in told
    assert "all through" not in told
    laid = set_track(brief_of(3), heard).laid
    assert laid is not None
    assert not any(laid.course.heard)
    assert laid.says[0].startswith("No beat can surely be heard in this track")


def test_the_word_of_the_teacher_takes_the_doubt_away() -> None:
    first, features = _waves()
    network = builtin_network()
    said = corrected(first, features, network, Corrections(with_beat=(Span(start=10.0, end=40.0),)))
    assert _sure_seconds(said, 0, 60) == pytest.approx(30.0)
    taps = tuple(10.0 + 0.8 * k for k in range(30))
    tapped = corrected(first, features, network, Corrections(taps=taps))
    assert _sure_seconds(tapped, 0, 60) == pytest.approx(taps[-1] - taps[0], abs=0.01)


def test_waves_after_music_are_in_doubt_and_the_music_is_not() -> None:
    music = make_track(910, 150, RATE).sound[60 * RATE : 120 * RATE]
    sea = make_unbeaten("sea", 911, 70.0)
    heard = _heard(np.concatenate([music, sea]))
    alone = _heard(music)
    assert _sure_seconds(heard, 0, 60) >= _sure_seconds(alone, 0, 60) - 8
    assert _sure_seconds(alone, 0, 60) > 30
    assert _sure_seconds(heard, 75, 130) < 5


def test_doubt_is_of_the_whole_or_of_long_stretches() -> None:
    beats, sure = np.arange(200.0), np.full(200, 0.9)
    heard = np.ones(200)
    assert doubtful_spans(beats, sure, heard, 200.0) == ()
    (whole,) = doubtful_spans(beats, sure * 0.35, heard, 200.0)
    assert (whole.start, whole.end) == (0.0, 200.0)
    faint = sure.copy()
    faint[150:] = 0.1
    (end,) = doubtful_spans(beats, faint, heard, 200.0)
    assert end.start == pytest.approx(154, abs=8)
    assert end.end == 200.0
    few = sure.copy()
    few[100:106] = 0.0
    assert doubtful_spans(beats, few, heard, 200.0) == ()
    assert doubtful_spans(np.zeros(0), np.zeros(0), np.zeros(0), 5.0) == ()


def test_a_sure_beat_is_told_as_before() -> None:
    heard, _ = _waves()
    clear = replace(heard, confidence=0.9, unsure=(), beatless=())
    assert "A beat can be heard all through." in heard_sentences(clear)
    half = replace(clear, unsure=(Span(start=0.0, end=20.0),))
    told = " ".join(heard_sentences(half))
    assert "A beat can be heard from 0:20 to 1:00." in told
    assert "Whether there is a beat is not sure from 0:00 to 0:20." in told
