"""Exact musical time. Expected numbers are worked out by hand beside each check."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rondel.model.time import Clock, Tempo, as_minutes


def steady(bpm: int, bars: int) -> Clock:
    return Clock(beats_per_bar=4, bars=bars, tempi=(Tempo(bar=0, bpm=Fraction(bpm)),))


def test_fifteen_minutes_at_sixty_are_225_bars_of_four() -> None:
    # 15 min × 60 beats a minute / 4 beats a bar = 225 bars.
    assert steady(60, 225).total_seconds == 900.0


def test_seconds_follow_every_tempo_of_the_map() -> None:
    clock = Clock(
        beats_per_bar=4,
        bars=4,
        tempi=(Tempo(bar=0, bpm=Fraction(60)), Tempo(bar=2, bpm=Fraction(120))),
    )
    # 8 beats at 1 s, then 8 beats at 0.5 s.
    assert clock.seconds_at(8) == 8.0
    assert clock.seconds_at(10) == 9.0
    assert clock.total_seconds == 12.0
    assert clock.beat_at(9.0) == pytest.approx(10.0)


def test_a_track_gives_the_second_of_every_beat_and_of_the_end() -> None:
    clock = Clock(beats_per_bar=2, bars=1, tempi=(), beat_seconds=(0.5, 1.5, 2.0))
    assert clock.seconds_at(Fraction(1, 2)) == 1.0
    assert clock.total_seconds == 2.0
    assert clock.beat_at(1.75) == pytest.approx(1.5)


def test_a_track_with_a_beat_missing_is_refused() -> None:
    with pytest.raises(ValueError, match="every beat"):
        Clock(beats_per_bar=4, bars=1, tempi=(), beat_seconds=(0.0, 1.0))


@given(
    st.lists(st.integers(30, 200), min_size=1, max_size=5),
    st.fractions(min_value=0, max_value=80, max_denominator=64),
)
def test_beat_at_undoes_seconds_at(bpms: list[int], beat: Fraction) -> None:
    tempi = tuple(Tempo(bar=4 * i, bpm=Fraction(b)) for i, b in enumerate(bpms))
    clock = Clock(beats_per_bar=4, bars=20, tempi=tempi)
    assert clock.beat_at(clock.seconds_at(beat)) == pytest.approx(float(beat), abs=1e-9)


def test_minutes_round_to_the_nearest_second() -> None:
    assert as_minutes(59.4) == "0:59"
    assert as_minutes(59.5) == "1:00"
    assert as_minutes(569.6) == "9:30"


@given(
    st.lists(
        st.tuples(st.integers(1, 40), st.fractions(30, 200, max_denominator=1000)),
        min_size=1,
        max_size=5,
    ),
    st.one_of(
        st.integers(-8, 900), st.fractions(0, 900, max_denominator=960), st.floats(0, 900, width=32)
    ),
)
def test_seconds_are_the_floats_nearest_to_the_exact_ones(
    spans: list[tuple[int, Fraction]], beat: Fraction | int | float
) -> None:
    # Reference: fractions of the standard library, rounded once.
    bars = [0]
    for length, _ in spans:
        bars.append(bars[-1] + length)
    tempi = tuple(Tempo(bar=b, bpm=bpm) for b, (_, bpm) in zip(bars, spans, strict=False))
    clock = Clock(beats_per_bar=4, bars=bars[-1], tempi=tempi)
    assert clock.seconds_at(beat) == float(clock.exact_seconds_at(Fraction(beat)))
