"""Where strokes are not whole, not on the beat, or not at the pace the technique is taught at.

A hold is one stroke as long as its passage, and may be held as long as it is taught. A tempo change
may fall inside a passage: every stroke is held against the range. With a brought track the mean
of the passage is, since players breathe.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage
from rondel.rules.strokes import RULE

HALF_A_BEAT = Fraction(1, 2)


def findings(view: View) -> Iterator[Finding]:
    for passage, technique in view.known():
        for says in _says(view, passage, technique):
            yield view.finding(RULE, passage.start_bar, f"{view.place(passage)} {says}")


def _says(view: View, passage: Passage, technique: Technique) -> Iterator[str]:
    beats, stroke = passage.bars * view.routine.beats_per_bar, passage.beats_per_stroke
    if passage.first_landing_beat >= beats:
        yield (
            f"has its first landing on beat {_number(passage.first_landing_beat)}, but it is over "
            f"after {beats} beats; let the first stroke land within it."
        )
    if technique.family.is_held:
        if stroke == beats:
            yield from _pace(view, passage, technique)
        else:
            yield (
                f"is held, so its one stroke lasts all of its {beats} beats, not {_number(stroke)}."
            )
        return
    if stroke.denominator != 1 and stroke != HALF_A_BEAT:
        yield (
            f"has strokes of {_number(stroke)} beats; a stroke takes a whole number of beats, "
            "or half a beat where it is quick."
        )
        return
    if beats % stroke != 0:
        yield (
            f"has {beats} beats, which strokes of {_number(stroke)} beats do not fill evenly; "
            "change its bars or its strokes."
        )
    yield from _pace(view, passage, technique)


def _pace(view: View, passage: Passage, technique: Technique) -> Iterator[str]:
    fast, slow = (float(s) for s in technique.cycle_seconds)
    quickest, slowest = stroke_seconds(view, passage)
    is_held = technique.family.is_held
    for is_so, which, seconds in (
        (quickest < fast - ROUNDING_SECONDS, "too short", quickest),
        (slowest > slow + ROUNDING_SECONDS, "too long", slowest),
    ):
        if is_so and is_held:
            yield (
                f"is held for {seconds:.2f} seconds, which is {which}; it is taught for {fast:g} "
                f"to {slow:g} seconds."
            )
        elif is_so:
            yield (
                f"takes {seconds:.2f} seconds a stroke, which is {which}; it is taught at "
                f"{fast:g} to {slow:g} seconds a stroke."
            )


def stroke_seconds(view: View, passage: Passage) -> tuple[float, float]:
    """Return the seconds of the quickest and of the slowest stroke of `passage`."""
    step, clock = passage.beats_per_stroke, view.routine.clock
    start = view.routine.start_beat(passage)
    count = max(int(passage.bars * view.routine.beats_per_bar / step), 1)
    if view.routine.music.beat_seconds:
        mean = (clock.seconds_at(start + count * step) - clock.seconds_at(start)) / count
        return mean, mean
    # All strokes between two tempo changes are alike: look at those next to a change only.
    changes = (t.bar * view.routine.beats_per_bar for t in view.routine.tempo)
    around = {int((beat - start) / step) for beat in changes if beat > start}
    strokes = {0, count - 1} | {k + d for k in around for d in (-1, 0, 1)}
    lengths = [
        clock.seconds_at(start + (k + 1) * step) - clock.seconds_at(start + k * step)
        for k in strokes
        if 0 <= k < count
    ]
    return min(lengths), max(lengths)


def _number(number: Fraction) -> str:
    return f"{float(number):g}"
