"""How fast a calming glide moves on small and on large bodies, on published measures.

Waist back length, ANSUR II 2012 (Gordon et al. 2014, Natick/TR-15/007): men 477.6 (27.7) mm, women
425.4 (26.4) mm. The best liked strokes move at 1 to 10 cm a second (Löken et al. 2009, Nature
Neuroscience 12:547-548).
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ansur import WAIST_BACK
from cases.reading import brief_for, routine_from_rows, small_craft
from rondel.checker.check import check
from rondel.checker.measures import measure
from rondel.model.repertoire import Craft, Technique
from rondel.model.words import Intention
from rondel.planner.constraints import speed

BACK_CM = Fraction("42.54")  # a woman's mean waist back length


def on_a_back_of(cm: Fraction) -> Craft:
    """Return the craft of the cases, with wide wings as long as a back of `cm`."""
    craft = small_craft()
    techniques = tuple(
        replace(t, path_cm=cm) if t.id == "wide-wings" else t for t in craft.techniques
    )
    return replace(craft, techniques=techniques)


def mean_speed(craft: Craft, stroke_seconds: float) -> float:
    """Return the speed of wide wings where one stroke of four beats lasts `stroke_seconds`."""
    routine = routine_from_rows(["wide-wings work both 8 2"], bpm=240 / stroke_seconds)
    return measure(routine, craft).glides[0].mean_body


def told(craft: Craft, stroke_seconds: float) -> list[str]:
    routine = routine_from_rows(["wide-wings work both 8 2"], bpm=240 / stroke_seconds)
    return [f.message for f in check(routine, craft, brief_for(None)) if f.rule == "speed"]


@pytest.mark.parametrize(
    ("seconds", "cm_per_second"),
    [
        (14.18, 3.0),  # 42.54 / 3
        (4.254, 10.0),  # 42.54 / 10
        (8.0, 5.32),  # eight beats at 60
        (1.0, 42.54),  # one stroke a beat at 60: beyond 40
    ],
)
def test_a_mean_back_in_so_many_seconds(seconds: float, cm_per_second: float) -> None:
    assert mean_speed(on_a_back_of(BACK_CM), seconds) == pytest.approx(cm_per_second, abs=0.003)


def test_seconds_for_the_back_of_each_mean_body() -> None:
    """At 3 and at 10 cm a second: 42.54 cm in 14.18 and 4.25 s, 47.76 cm in 15.92 and 4.78 s."""
    for cm, slow, fast in ((BACK_CM, 14.18, 4.25), (Fraction("47.76"), 15.92, 4.78)):
        craft = on_a_back_of(cm)
        assert mean_speed(craft, slow) == pytest.approx(3, abs=0.005)
        assert mean_speed(craft, fast) == pytest.approx(10, abs=0.015)


def test_a_stroke_is_held_against_the_small_and_the_large_body() -> None:
    """42.54 cm is read as the mean body's path. The large body has 523.17 / 451.5 = 1.1587 of it:
    10 cm a second there are 42.54 · 1.1587 / 10 = 4.929 s. The small body has 381.97 / 451.5 =
    0.8460: 1 cm a second there are 42.54 · 0.8460 = 35.99 s."""
    craft = on_a_back_of(BACK_CM)
    assert told(craft, 4.94) == told(craft, 35.9) == []
    (fast,) = told(craft, 4.91)
    assert "10.0 cm a second on a large body" in fast
    (slow,) = told(craft, 36.1)
    assert "1.0 cm a second on a small body" in slow
    (far_too_fast,) = told(craft, 1.0)
    assert "49.3 cm a second on a large body" in far_too_fast  # 42.54 · 1.1587


def test_the_planner_looks_further_than_the_checker() -> None:
    """Two standard deviations (decision 1: the planner is the stricter), not the 5th and 95th."""
    assert pytest.approx((425.4 - 52.8) / 451.5) == speed.SMALL_BODY
    assert pytest.approx((477.6 + 55.4) / 451.5) == speed.LARGE_BODY
    assert speed.SMALL_BODY < WAIST_BACK.smallest < 1 < WAIST_BACK.largest < speed.LARGE_BODY


@given(seconds=st.floats(0.5, 90), cm=st.integers(5, 90))
def test_what_the_planner_likes_the_checker_does_not_mind(seconds: float, cm: int) -> None:
    craft = on_a_back_of(Fraction(cm))
    wings: Technique = craft.technique("wide-wings")
    if speed.strain(wings, 2, seconds, Intention.SETTLE) == 0:
        assert told(craft, seconds) == []
    elif not 1.0 <= cm / seconds <= 10.0:  # the mean body itself is out of range
        assert told(craft, seconds) != []
