"""A press lands where it is deepest, however unlike its two sides are and however it is blurred."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rondel.watching.deepest import deepest, settled
from rondel.watching.signals import RATE, Numbers
from rondel.watching.strokes import Lobe, lobes_of

SEEN_OVER = 0.48


def seen_over(depth: Numbers, at: Numbers) -> Numbers:
    """Return how fast hands close in, seen over a while as pictures that far apart tell it."""
    half = SEEN_OVER / 2
    first, last = (np.interp(at + off, at, depth) for off in (-half, half))
    return np.asarray((last - first) / SEEN_OVER)


def sides(speed: Numbers, at: Numbers, turn: float) -> tuple[Lobe, Lobe]:
    lobes = lobes_of(speed, at, 0.0)
    closing = max(
        (one for one in lobes if one.sign > 0 and one.start < turn), key=lambda o: o.start
    )
    opening = min((one for one in lobes if one.sign < 0 and one.end > turn), key=lambda o: o.start)
    return closing, opening


@given(st.floats(2.4, 7.0), st.floats(2.4, 7.0), st.floats(-0.1, 0.1))
@settings(max_examples=25, deadline=None)
def test_a_press_of_unlike_halves_turns_where_it_is_deepest(
    before: float, after: float, off: float
) -> None:
    # A press of `before` seconds, then one of `after`: depth is a cosine of its own length in each.
    at = np.arange(-5 * RATE, 5 * RATE) / RATE
    depth = np.cos(2 * np.pi * at / np.where(at < 0, before, after))
    speed = seen_over(depth, at)
    found = deepest(speed, at, sides(speed, at, 0.0), off, SEEN_OVER)
    assert found == pytest.approx(0.0, abs=0.012)


def test_noise_hardly_moves_a_turn_that_the_slopes_alone_put_elsewhere() -> None:
    at = np.arange(-5 * RATE, 5 * RATE) / RATE
    dice = np.random.default_rng(4)
    offs, slopes = [], []
    for _ in range(20):
        depth = np.cos(2 * np.pi * at / np.where(at < 0, 3.2, 5.6))
        noise = np.convolve(dice.standard_normal(len(at)), np.ones(12) / 12, "same")
        speed = seen_over(depth, at) + 0.06 * noise
        closing, opening = sides(speed, at, 0.0)
        guess = (closing.end + opening.start) / 2
        slopes.append(abs(guess))
        offs.append(abs(deepest(speed, at, (closing, opening), guess, SEEN_OVER)))
    assert np.median(offs) < 0.015
    assert np.median(offs) < 0.5 * np.median(slopes)


def test_hands_that_come_to_rest_on_a_press_land_there() -> None:
    # The path of least jerk from a turn to a rest, in 2.5 seconds.
    at = np.arange(-5 * RATE, 3 * RATE) / RATE
    share = np.clip(1 + at / 2.5, 0.0, 1.0)
    depth = share**2 * (6 - 8 * share + 3 * share**2)
    speed = seen_over(depth, at)
    lobe = max(lobes_of(speed, at, 0.0), key=lambda one: one.area)
    found = settled(speed, at, lobe, SEEN_OVER)
    assert found == pytest.approx(0.0, abs=0.1)


def test_a_turn_too_short_to_be_told_stays_where_it_was() -> None:
    at = np.arange(5) / RATE
    speed = np.array([1.0, 0.5, 0.0, -0.5, -1.0])
    closing, opening = lobes_of(speed, at, 0.0)
    assert deepest(speed, at, (closing, opening), 0.03, SEEN_OVER) == 0.03
    assert settled(speed, at, closing, SEEN_OVER) == closing.soft_end
