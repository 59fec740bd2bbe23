"""How strong sections are: against the truth of made-up tracks, and what must hold of any track.

Seeds from 20000 on: none was trained, tuned or measured on (`training/energies.py` uses 40000 on,
`benchmarks/tracks/split.json` names the others).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, sosfilt

from ambient_tracks import make_track
from rondel.listening.energies import (
    WIDE_BANDS,
    BarSound,
    bar_columns,
    bar_sound,
    energies_of,
    strength_of,
)
from rondel.listening.energy_weights import BIAS, INNER, OUTER
from rondel.listening.features import RATE, Features, FeatureStream
from rondel.listening.sections import hear_sections
from rondel.model.track import Section, Span

ATTACKS = 4
COLUMNS = WIDE_BANDS + ATTACKS + 2
BAR = 2.5


def features_of(sound: np.ndarray) -> Features:
    stream = FeatureStream()
    stream.feed(np.asarray(sound, dtype=np.float32))
    return stream.features()


def flat(bars: int) -> BarSound:
    return BarSound(
        lines=BAR * np.arange(bars + 1.0),
        loud=np.full((bars, WIDE_BANDS), 1.0),
        attacks=np.full((bars, ATTACKS), 0.2),
        level=np.full(bars, -3.0),
    )


@pytest.mark.parametrize("seed", [20011, 20012])
def test_energies_follow_what_is_true_of_a_track(seed: int) -> None:
    track = make_track(seed, 150)
    truth = track.truth
    told = hear_sections(features_of(track.sound), truth.downbeats, truth.beatless)
    seconds = np.arange(0.5, truth.seconds - 0.5)

    def energies(sections: Sequence[Section]) -> np.ndarray:
        ends = [section.span.end for section in sections]
        places = [min(bisect_left(ends, at), len(ends) - 1) for at in seconds]
        return np.array([sections[place].energy for place in places])

    has, true = energies(told), energies(truth.sections)
    assert np.corrcoef(has, true)[0, 1] >= 0.85
    # What is called strongest is not far below what is.
    assert np.median(true[has == has.max()]) >= true.max() - 0.2


def test_drums_are_stronger_than_a_drone_that_is_louder() -> None:
    """Common practice, no source: the height of a track is where it moves, not where it hums."""
    bars = 16
    at = np.arange(int(bars * BAR * RATE)) / RATE
    drone = sum(np.sin(2 * np.pi * hertz * at) for hertz in (55, 82.5, 110, 165)) / 4
    dice = np.random.default_rng(3)
    knock = sosfilt(butter(2, (150, 2500), "bandpass", fs=RATE, output="sos"),
                    dice.standard_normal(len(at)))  # fmt: skip
    struck = knock * np.exp(-((at % (BAR / 4)) / 0.06))
    half = at < bars / 2 * BAR
    sound = np.where(half, 0.5 * drone, 0.1 * drone + 0.35 * struck)
    loud, soft = np.std(sound[half]), np.std(sound[~half])
    assert loud > 1.5 * soft
    features = features_of(np.stack([sound, sound], axis=1))
    heard = bar_sound(features, [BAR * n for n in range(bars)])
    quiet = (Span(start=0, end=bars / 2 * BAR),)
    assert energies_of(heard, [0, bars // 2, len(heard.lines) - 1], quiet) == [0.0, 1.0]


def test_no_weight_is_negative() -> None:
    assert np.shape(INNER) == (COLUMNS, len(BIAS))
    assert len(BIAS) == len(OUTER)
    assert np.min(INNER) >= 0
    assert np.min(OUTER) >= 0


@settings(max_examples=40, deadline=None)
@given(st.integers(0, COLUMNS - 1), st.integers(0, 2**32 - 1), st.floats(0.001, 5))
def test_a_column_that_grows_never_makes_a_bar_weaker(column: int, seed: int, more: float) -> None:
    rows = np.random.default_rng(seed).normal(0, 1, (6, COLUMNS))
    raised = rows.copy()
    raised[2, column] += more
    before = strength_of(rows, INNER, BIAS, OUTER)
    after = strength_of(raised, INNER, BIAS, OUTER)
    assert after[2] >= before[2]
    assert np.array_equal(np.delete(after, 2), np.delete(before, 2))


def test_a_track_without_any_difference_is_equally_strong_throughout() -> None:
    assert energies_of(flat(8), [0, 4, 8], ()) == [1.0, 1.0]


@pytest.mark.parametrize("bars", [1, 2])
def test_a_track_of_a_bar_or_two_has_energies(bars: int) -> None:
    assert bar_columns(flat(bars), ()).shape == (bars, COLUMNS)
    assert energies_of(flat(bars), [0, bars], ()) == [1.0]


def test_where_a_beat_is_heard_is_stronger_if_all_else_is_alike() -> None:
    assert energies_of(flat(8), [0, 4, 8], (Span(start=0, end=4 * BAR),)) == [0.0, 1.0]
