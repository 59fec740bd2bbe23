"""What a take may show is offered by how hands move and how fast, and never taken as known."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from rondel.adapters.studio_files import craft_for
from rondel.cli.watch import may_be_say
from rondel.model.repertoire import Technique
from rondel.model.take import MotionKind, Seen, SeenStretch
from rondel.model.track import Span
from rondel.model.words import Landing, Side, Trace
from rondel.watching.may_be import may_be

TECHNIQUES = craft_for(Path("nowhere.mp4")).techniques
SEEN_AS = {
    Trace.ALONG: MotionKind.GLIDE,
    Trace.ACROSS: MotionKind.GLIDE,
    Trace.OUTWARD: MotionKind.GLIDE,
    Trace.CIRCLE: MotionKind.CIRCLE,
    Trace.ALTERNATE: MotionKind.ALTERNATE,
}


def stretch(kind: MotionKind, period: float, start: float = 0.0, end: float = 60.0) -> SeenStretch:
    span = Span(start=start, end=end)
    return SeenStretch(span=span, kind=kind, landings=(), period=period, confidence=0.9)


def kind_of(technique: Technique) -> MotionKind | None:
    if technique.trace is Trace.SPOT and technique.landing is Landing.DEEPEST:
        return MotionKind.PRESS
    return SEEN_AS.get(technique.trace)


@pytest.mark.parametrize("technique", TECHNIQUES, ids=lambda one: str(one.id))
def test_a_technique_at_any_of_its_paces_is_among_what_it_may_be(technique: Technique) -> None:
    kind = kind_of(technique)
    for seconds in (*technique.cycle_seconds, sum(technique.cycle_seconds) / 2):
        for other in MotionKind:
            found = may_be(stretch(other, float(seconds)), TECHNIQUES)
            assert technique in found or other is not kind
            # Nothing that cannot be seen to move so is offered.
            assert kind is not None or technique not in found


def test_what_is_taught_far_slower_or_quicker_is_not_offered() -> None:
    slow = next(one for one in TECHNIQUES if one.trace is Trace.CIRCLE)
    fast, slowest = slow.cycle_seconds
    for seconds in (float(fast) / 1.5, float(slowest) * 1.5):
        assert slow not in may_be(stretch(MotionKind.CIRCLE, seconds), TECHNIQUES)


def test_the_one_whose_usual_pace_it_is_comes_first() -> None:
    circle = next(one for one in TECHNIQUES if one.trace is Trace.CIRCLE)
    quick = replace(circle, id="quick", cycle_seconds=(Fraction(1), Fraction(4)))
    slow = replace(circle, id="slow", cycle_seconds=(Fraction(3), Fraction(12)))
    for period, first in ((2.0, "quick"), (6.0, "slow")):
        found = may_be(stretch(MotionKind.CIRCLE, period), (slow, quick))
        assert found[0].id == first
    assert [one.id for one in may_be(stretch(MotionKind.CIRCLE, 10.0), (quick, slow))] == ["slow"]


def test_to_and_fro_lands_at_both_ends_so_two_landings_may_be_one_stroke() -> None:
    glide = next(one for one in TECHNIQUES if one.trace is Trace.ALONG)
    middle = float(sum(glide.cycle_seconds)) / 2
    once = replace(glide, cycle_seconds=(Fraction(middle) * 9 / 10, Fraction(middle) * 10 / 9))
    assert may_be(stretch(MotionKind.GLIDE, middle), (once,)) == (once,)
    assert may_be(stretch(MotionKind.GLIDE, middle / 2), (once,)) == (once,)
    assert may_be(stretch(MotionKind.GLIDE, middle / 4), (once,)) == ()


def test_a_take_of_one_side_shows_what_is_done_side_by_side() -> None:
    found = may_be(stretch(MotionKind.GLIDE, 3.0), TECHNIQUES, Side.LEFT)
    assert found
    assert all(one.lateral for one in found)
    assert set(found) < set(may_be(stretch(MotionKind.GLIDE, 3.0), TECHNIQUES))


def test_only_parts_that_nobody_named_are_spoken_of_and_alike_ones_together() -> None:
    parts = (
        stretch(MotionKind.GLIDE, 3.0, 0, 20),
        replace(stretch(MotionKind.PRESS, 6.0, 20, 40), technique="ember-press"),
        stretch(MotionKind.GLIDE, 3.0, 40, 60),
    )
    seen = Seen(seconds=60, fps=25, width=640, height=360, stretches=parts)
    told = may_be_say(seen, TECHNIQUES, Path("my takes/a.mp4"))
    assert len(told) == 1
    assert told[0].startswith("From 0:00 to 0:20, 0:40 to 1:00: ")
    first = may_be(parts[0], TECHNIQUES)[0]
    naming = f"rondel watch 'my takes/a.mp4' --technique-at 0:10={first.id}"
    assert told[0].endswith(f"To name the first: {naming}")
    named = replace(seen, stretches=tuple(replace(one, technique=first.id) for one in parts))
    assert may_be_say(named, TECHNIQUES, Path("a.mp4")) == []
