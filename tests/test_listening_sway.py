"""A tempo in slow waves is followed where nothing is heard, and nothing is claimed elsewhere."""

from __future__ import annotations

import numpy as np
import pytest

from rondel.listening.steady import Seconds
from rondel.listening.sway import swayed

#: Beats heard about as well as soft notes are: the spread of the truth in `ambient_tracks.py`.
SPREAD = 0.006


def _swaying(count: int, periods: tuple[float, ...], depth: float = 0.04) -> Seconds:
    at = 0.8 * np.arange(count)
    wander = sum(np.sin(2 * np.pi * at / period + period) for period in periods)
    steps = 0.8 / (1 + depth / len(periods) * np.asarray(wander))
    return 0.5 + np.concatenate([[0.0], np.cumsum(steps)])


def _heard(beats: Seconds, quiet: Seconds) -> tuple[Seconds, Seconds]:
    chance = np.random.default_rng(3)
    known = beats + chance.normal(0, SPREAD, len(beats))
    weights = np.where(quiet, 0.0, 1.0)
    # Where nothing is heard, a row of beats goes on evenly, wherever that leads.
    known[quiet > 0] = np.interp(
        np.flatnonzero(quiet), np.flatnonzero(quiet == 0), known[quiet == 0]
    )
    return known, weights


@pytest.mark.parametrize("periods", [(55.0,), (48.0, 120.0), (90.0, 110.0)])
def test_beats_of_a_silent_opening_and_break_lie_where_the_waves_lead(
    periods: tuple[float, ...],
) -> None:
    beats = _swaying(360, periods)
    quiet = np.zeros(361)
    quiet[:70] = quiet[200:230] = 1
    known, weights = _heard(beats, quiet)
    found = swayed(known, weights)
    assert found is not None
    away = np.abs(found[0][:, None] - beats[None, :]).min(axis=0)
    assert (away[quiet > 0] < 0.07).mean() > 0.95  # what mir_eval counts as met
    # Without the waves, even beats at the tempo that follows lie elsewhere.
    even = known[70] - (known[90] - known[70]) / 20 * np.arange(1, 71)
    assert (np.abs(even[:, None] - beats[None, :70]).min(axis=0) < 0.07).mean() < 0.8


@pytest.mark.parametrize("slip", [-1, 1])
def test_a_beat_too_many_or_too_few_in_a_break_is_put_right(slip: int) -> None:
    beats = _swaying(360, (48.0, 120.0))
    quiet = np.zeros(361)
    quiet[:40] = quiet[200:240] = 1
    known, weights = _heard(beats, quiet)
    between = np.linspace(known[199], known[240], 42 + slip)[1:-1]
    row = np.concatenate([known[:200], between, known[240:]])
    sure = np.concatenate([weights[:200], np.zeros(len(between)), weights[240:]])
    found = swayed(row, sure)
    assert found is not None
    assert len(found[0]) == len(beats)
    assert np.abs(found[0] - beats)[200:240].max() < 0.07


def test_a_tempo_that_wanders_by_chance_is_not_taken_for_waves() -> None:
    for seed in range(20):
        chance = np.random.default_rng(seed)
        bell = np.exp(-0.5 * (np.arange(-45, 46) / 15) ** 2)
        wander = np.convolve(chance.standard_normal(360 + 90), bell, mode="valid")
        steps = 0.8 / (1 + 0.04 * wander / np.abs(wander).max())
        beats = 0.5 + np.concatenate([[0.0], np.cumsum(steps)])
        quiet = np.zeros(len(beats))
        quiet[:70] = 1
        assert swayed(*_heard(beats, quiet)) is None


def test_few_beats_or_none_are_no_ground_for_waves() -> None:
    beats = _swaying(50, (48.0,))
    assert swayed(beats, np.ones(len(beats))) is None
    assert swayed(beats, np.zeros(len(beats))) is None
    assert swayed(np.zeros(0), np.zeros(0)) is None
