"""Where no hand after hand goes with the beat, though there is one.

A passage of alternating hands counts if at least one of its strokes lands on a beat that can be
heard. Nothing is asked for `sleep`, nor where no beat is heard at all. A brought track of which
nothing more is told is taken to have its beat throughout.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.words import Intention
from rondel.rules.rhythm import RULE


def findings(view: View) -> Iterator[Finding]:
    whole = view.is_with_track and view.course is None
    first, past = (0, view.routine.clock.beats) if whole else view.heard
    if view.intention is Intention.SLEEP or past <= first:
        return
    for passage, technique in view.known():
        landing = view.routine.start_beat(passage) + passage.first_landing_beat
        ends = min(view.routine.end_beat(passage), past)
        if technique.is_alternating and _lands(landing, passage.beats_per_stroke, first, ends):
            return
    says = "No passage goes hand after hand on the beat; add one while the music has a beat."
    yield view.finding(RULE, min(first // view.routine.beats_per_bar, view.routine.bars - 1), says)


def _lands(landing: Fraction, step: Fraction, first: int, past: int) -> bool:
    """True where one of the beats landing, landing + step, … lies in [first, past)."""
    if landing < first:
        landing += -((landing - first) // step) * step
    return landing < past
