"""Beats are heard where they were put: sounds made here, so that the truth is exact."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from rondel.adapters.beat_weights import builtin_network
from rondel.listening.beats import _explaining, hear_beats
from rondel.listening.features import (
    BANDS,
    RATE,
    Features,
    FeatureStream,
    Floats,
    loudness_of,
)
from rondel.listening.network import METRES, TEMPI
from rondel.listening.pulse import _best_row
from rondel.listening.steady import Seconds, Steady, smoothed, steady_grid


def _clicks(times: Seconds, seconds: float, accents: int = 4) -> Floats:
    """Return a soft pad with a short struck tone on each of `times`, every bar's first higher."""
    count = int(seconds * RATE)
    at = np.arange(count) / RATE
    tones = [np.sin(2 * np.pi * hertz * at) for hertz in (220.0, 277.2, 329.6)]
    sound = 0.02 * np.sum(tones, axis=0)
    ring = np.arange(int(0.25 * RATE)) / RATE
    for number, time in enumerate(times):
        hertz = 880.0 if number % accents == 0 else 587.3
        struck = 0.4 * np.sin(2 * np.pi * hertz * ring) * np.exp(-ring / 0.05)
        first = round(time * RATE)
        room = min(len(struck), count - first)
        if room > 0:
            sound[first : first + room] += struck[:room]
    return np.asarray(sound, dtype=np.float32)


def _features(sound: Floats, block: int = 50_000) -> Features:
    stream = FeatureStream()
    for start in range(0, len(sound), block):
        stream.feed(sound[start : start + block])
    return stream.features()


@pytest.fixture(scope="module")
def steady() -> tuple[Seconds, Features]:
    times = 1.237 + np.arange(56) * 60 / 71.3
    return times, _features(_clicks(times, 50.0))


def test_steady_clicks_are_heard_within_five_milliseconds(
    steady: tuple[Seconds, Features],
) -> None:
    times, features = steady
    heard = hear_beats(features, builtin_network())
    assert heard.is_constant
    # 0.02 % of the tempo, the goal for constant tracks.
    assert heard.bpm == pytest.approx(71.3, rel=0.0002)
    beats = np.array(heard.beats)
    off = np.abs(beats[:, None] - times[None, :]).min(axis=0)
    assert np.median(off) <= 0.005
    assert off.max() < 0.01


def test_a_wandering_tempo_is_followed_and_not_called_constant() -> None:
    bpm = 72 * (1 + 0.04 * np.sin(np.arange(60) / 6))
    times = 0.8 + np.concatenate([[0.0], np.cumsum(60 / bpm)])
    times = times[times < 49.5]
    heard = hear_beats(_features(_clicks(times, 50.0)), builtin_network())
    assert not heard.is_constant
    off = np.abs(np.array(heard.beats)[:, None] - times[None, :]).min(axis=0)
    assert np.mean(off < 0.025) > 0.95


def test_a_pad_before_the_clicks_is_beatless_and_its_beats_are_implied() -> None:
    times = 24.0 + np.arange(40, dtype=np.float64) * 0.8
    heard = hear_beats(_features(_clicks(times, 56.0)), builtin_network())
    quiet = sum(min(span.end, 24.0) - span.start for span in heard.beatless if span.start < 24.0)
    assert quiet > 18.0
    assert heard.is_constant
    implied = 24.0 - 0.8 * np.arange(1, 20)
    off = np.abs(np.array(heard.beats)[:, None] - implied[None, :]).min(axis=0)
    assert off.max() < 0.02


def test_silence_has_no_beats_and_no_confidence() -> None:
    heard = hear_beats(_features(np.zeros(RATE * 5, dtype=np.float32)), builtin_network())
    assert heard.beats == ()
    assert heard.confidence == 0
    assert [(span.start, span.end) for span in heard.beatless] == [(0.0, 5.0)]


def test_in_a_silence_between_no_beat_is_heard_however_steady_it_is(
    steady: tuple[Seconds, Features],
) -> None:
    times, _ = steady
    sound = _clicks(times, 50.0)
    sound[round(20 * RATE) : round(29 * RATE)] = 0
    heard = hear_beats(_features(sound), builtin_network())
    assert len(heard.beatless) == 1
    assert heard.beatless[0].start == pytest.approx(20.0, abs=0.6)
    assert heard.beatless[0].end == pytest.approx(29.0, abs=0.6)
    # The beats go on behind: a routine needs bars even there.
    assert np.diff(heard.beats).max() < 1.5 * 60 / 71.3
    rest = sound.copy()
    rest[round(29 * RATE) - 6 * RATE : round(29 * RATE)] = _clicks(times, 50.0)[: 6 * RATE]
    assert hear_beats(_features(rest), builtin_network()).beatless == ()  # 3 s are a breath


def test_a_track_shorter_than_a_beat_is_heard_without_fault() -> None:
    for seconds in (0.0, 0.01, 0.5, 2.5):
        heard = hear_beats(
            _features(np.full(int(seconds * RATE), 0.1, np.float32)), builtin_network()
        )
        assert heard.confidence <= 1


def test_a_tempo_asked_for_is_the_one_that_is_heard(steady: tuple[Seconds, Features]) -> None:
    _, features = steady
    heard = hear_beats(features, builtin_network(), bpm=71.3 / 2)
    assert heard.bpm == pytest.approx(71.3 / 2, rel=0.002)


def test_taps_decide_which_level_is_meant(steady: tuple[Seconds, Features]) -> None:
    times, features = steady
    taps = times[10:30:2] + 0.02
    heard = hear_beats(features, builtin_network(), taps=tuple(taps))
    assert heard.bpm == pytest.approx(71.3 / 2, rel=0.01)
    off = np.abs(np.array(heard.beats)[:, None] - times[None, 10:30:2]).min(axis=0)
    assert np.median(off) < 0.02


def test_a_quieter_copy_is_heard_alike(steady: tuple[Seconds, Features]) -> None:
    times, features = steady
    quiet = _features(_clicks(times, 50.0) * np.float32(0.1))
    one, other = (hear_beats(f, builtin_network()) for f in (features, quiet))
    assert one.beats == pytest.approx(other.beats, abs=0.002)


def test_the_same_track_is_heard_the_same_twice(steady: tuple[Seconds, Features]) -> None:
    _, features = steady
    assert hear_beats(features, builtin_network()) == hear_beats(features, builtin_network())


def test_features_do_not_depend_on_the_size_of_blocks() -> None:
    sound = _clicks(np.arange(0.5, 6, 0.7), 6.0)
    one, other = _features(sound, 7_777), _features(sound, 200_000)
    for name in ("bands", "fine", "pitches", "rms"):
        first, second = (getattr(f, name).astype(np.float32) for f in (one, other))
        assert first.shape == second.shape
        assert np.abs(first - second).max() < 0.02  # float16, and the order of sums


def test_two_channels_never_cancel() -> None:
    """Middle and side share the power of left and right: |L|² + |R|² = 2 (|M|² + |S|²)."""
    sound = _clicks(np.arange(0.5, 6, 0.7), 6.0)
    one = _features(sound)
    for left, right, magnitude in (
        (1, 1, 1.0),  # all of it in the middle
        (1, -1, 0.5),  # all of it beside: a quarter of the power
        (1, 0, (0.25 + 0.25 * 0.25) ** 0.5),  # half in amplitude either way
    ):
        both = _features(np.stack([left * sound, right * sound], axis=1).astype(np.float32))
        for name in ("bands", "fine"):
            rows = getattr(one, name).astype(np.float32)
            loud = rows > np.log(1e-4)  # far above the floor
            other = getattr(both, name).astype(np.float32)
            assert np.abs(other[loud] - rows[loud] - np.log(magnitude)).max() < 0.02


def test_the_network_answers_every_frame_with_shares_that_sum_to_one(
    steady: tuple[Seconds, Features],
) -> None:
    _, features = steady
    said = builtin_network().hear(features)
    rows = len(features.bands) // 2
    assert said.beat.shape == said.downbeat.shape == said.heard.shape == (rows,)
    assert said.tempo.shape == (rows, TEMPI)
    assert said.metre.shape == (rows, len(METRES))
    assert np.abs(said.metre.sum(axis=1) - 1).max() < 1e-4
    # Kept as float16: a share is told to 1 part in 2048, and so is what all of them sum to.
    assert np.abs(said.tempo.astype(float).sum(axis=1) - 1).max() < 1 / 2048


def test_a_long_track_is_answered_in_blocks_as_if_at_once(
    monkeypatch: pytest.MonkeyPatch, steady: tuple[Seconds, Features]
) -> None:
    _, features = steady
    whole = builtin_network().hear(features)
    monkeypatch.setattr("rondel.listening.network.AT_ONCE", 700)
    monkeypatch.setattr("rondel.listening.network.CLOSE_AT_ONCE", 130)
    parts = builtin_network().hear(features)
    # 2100 frames around each block are all that a frame can be told by.
    for name in ("beat", "downbeat", "heard", "metre"):
        assert np.abs(getattr(whole, name) - getattr(parts, name)).max() < 1e-4
    # Kept as float16, whose neighbours are 0.001 apart just below 1.
    assert np.abs(whole.tempo.astype(float) - parts.tempo.astype(float)).max() < 2e-3
    # The network asked about everything at once, no block anywhere.
    loud = loudness_of(features.bands[: 2 * len(whole.beat)], features.level)
    said = builtin_network().answer(loud.reshape(-1, 2, BANDS))[:, 0]
    assert np.abs(1 / (1 + np.exp(-said)) - whole.beat).max() < 1e-4


def test_beats_of_a_long_track_are_found_in_blocks_as_if_at_once(
    monkeypatch: pytest.MonkeyPatch, steady: tuple[Seconds, Features]
) -> None:
    _, features = steady
    whole = hear_beats(features, builtin_network())
    for place in ("pulse", "attacks", "tempo"):
        monkeypatch.setattr(f"rondel.listening.{place}.AT_ONCE", 333)
    monkeypatch.setattr("rondel.listening.steady.AT_ONCE", 500)
    parts = hear_beats(features, builtin_network())
    assert parts.beats == pytest.approx(whole.beats, abs=1e-6)
    assert parts.downbeats == pytest.approx(whole.downbeats, abs=1e-6)
    assert [other.bpm for other in parts.others] == pytest.approx(
        [other.bpm for other in whole.others], rel=1e-6
    )


def test_the_best_row_of_beats_is_the_best_of_all_rows() -> None:
    """Every row of beats that can be, tried one by one: no dynamic programme."""
    chance = np.random.default_rng(5)
    periods = np.arange(4, 7)
    for _ in range(20):
        worth = chance.normal(size=21).astype(np.float32)
        by_period = chance.normal(size=(21, 3)).astype(np.float32) * np.float32(0.3)
        frames, score = _best_row(worth, by_period, periods)
        every = [
            (_worth_of(row, by, worth, by_period), row)
            for first in range(6)
            for row, by in _rows_from(first, 21)
        ]
        best, row = max(every)
        assert score == pytest.approx(best, abs=1e-4)
        assert tuple(frames) == row


def _rows_from(first: int, count: int) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Return (frames, the period that leads to each) of rows that begin at `first`.

    A row begins on a frame that no beat can come before, and ends within a period of the end.
    """
    rows: list[tuple[tuple[int, ...], tuple[int, ...]]] = []
    waiting: list[tuple[tuple[int, ...], tuple[int, ...]]]
    waiting = [((first,), (by,)) for by in (4, 5, 6) if first - by < 0]
    while waiting:
        row, by = waiting.pop()
        if row[-1] >= count - 6:
            rows.append((row, by))
        for step in (4, 5, 6):
            if row[-1] + step < count:
                waiting.append(((*row, row[-1] + step), (*by, step)))
    return rows


def _worth_of(row: tuple[int, ...], by: tuple[int, ...], worth: Floats, by_period: Floats) -> float:
    """What `pulse.py` says a row is worth, written out again from its constants' comments."""
    total = 0.0
    for place, (frame, period) in enumerate(zip(row, by, strict=True)):
        total += float(worth[frame]) + float(by_period[frame, period - 4])
        if place:
            ratio = abs(np.log(period / by[place - 1]))
            total -= 30.0 * max(0.0, ratio - 1.01 / period) + 6.0 * ratio
    return total


def test_in_silence_the_network_says_no_beat() -> None:
    said = builtin_network().answer(np.zeros((300, 2, BANDS), dtype=np.float32))
    assert said.shape == (300, 3 + TEMPI + len(METRES))
    assert (said[:, 0] < -1).all()


def test_a_grid_is_found_through_a_hole_and_among_half_beats() -> None:
    beats = 0.4 + 0.83 * np.concatenate([np.arange(30), np.arange(90, 160)])
    halves = beats[::3] + 0.415
    at = np.concatenate([beats, halves])
    weight = np.concatenate([np.ones(len(beats)), np.full(len(halves), 0.3)])
    order = np.argsort(at)
    grid = steady_grid(at[order], weight[order], 0.835)
    assert grid is not None
    assert grid.period == pytest.approx(0.83, rel=1e-6)
    assert (grid.first - 0.4) % 0.83 == pytest.approx(0, abs=1e-6)


def test_even_beats_stay_where_they_are_when_smoothed() -> None:
    beats = np.arange(40, dtype=np.float64) * np.float64(0.7)
    assert smoothed(beats, np.ones(40), 4.0, 0.05) == pytest.approx(beats, abs=1e-9)


@pytest.mark.parametrize("changes_at", [20, 40])
def test_a_row_that_changes_to_the_off_beat_keeps_the_grid_of_most_of_the_track(
    changes_at: int,
) -> None:
    worth = np.full(3000, -1.0, dtype=np.float32)
    grid = Steady(first=0.005, period=1.0, trend=0.0)  # the network's frame 0 is at 5 ms
    for beat in range(60):
        worth[50 * beat + (25 if beat >= changes_at else 0)] = 2.0
    beats = _explaining(grid, worth, 120.0, 0.0, 60.0)
    assert beats is not None
    off = 0.5 if changes_at < 30 else 0.0
    count = beats - 0.005 - off
    assert count == pytest.approx(np.rint(count), abs=1e-9)
    # Beats on no even grid at all: a third of a beat here, two thirds there.
    apart = np.full(3000, -1.0, dtype=np.float32)
    apart[(50 * np.arange(60) + 17 * (np.arange(60) % 3)).clip(0, 2999)] = 2.0
    assert _explaining(grid, apart, 120.0, 0.0, 60.0) is None


def test_where_all_weight_lies_on_one_peak_there_is_no_even_grid() -> None:
    """A drone has peaks that are next to nothing: any grid goes through the one that counts."""
    at: Seconds = np.arange(12, dtype=np.float64) * np.float64(0.8) + np.float64(0.3)
    weight = np.full(12, 1e-32)
    weight[4] = 1.0
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # a teacher is shown no warnings of numpy
        assert steady_grid(at, weight, 0.8) is None
    weight[9] = 0.5
    grid = steady_grid(at, weight, 0.8)
    assert grid is not None
    assert grid.period == pytest.approx(0.8)
