"""Which stroke lengths, in beats, a passage may have, and which is best."""

from __future__ import annotations

import math
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from rondel.model.repertoire import Technique
from rondel.model.words import Intention, Landing
from rondel.planner.constraints import speed
from rondel.planner.frame import Frame

_REMEMBERED = 20_000  # lengths of techniques

#: Where in the taught range (0 the fastest, 1 the slowest, on a log scale) a stroke should lie.
_EASE = {
    Intention.SETTLE: 0.55,
    Intention.SLEEP: 0.7,
    Intention.CLOSENESS: 0.6,
    Intention.WAKE: 0.3,
}


class _Pace(NamedTuple):
    """What of a frame the lengths hang on. Answers are remembered by it: a brief that is planned
    again, a little changed, asks for the same ones."""

    intention: Intention
    beat_seconds: Fraction
    beats_per_bar: int
    drift: Fraction


def _pace_of(frame: Frame) -> _Pace:
    return _Pace(frame.brief.intention, frame.beat_seconds, frame.beats_per_bar, frame.drift)


def choices(technique: Technique, frame: Frame, bars: int) -> tuple[Fraction, ...]:
    """Return every stroke length that fills `bars` and lies in the taught range, shortest first.

    A hold or embrace is one stroke as long as itself, and must lie in its range too.
    """
    return _choices(technique, _pace_of(frame), bars)


@lru_cache(maxsize=_REMEMBERED)
def _choices(technique: Technique, pace: _Pace, bars: int) -> tuple[Fraction, ...]:
    beats = bars * pace.beats_per_bar
    fast, slow = (seconds / pace.beat_seconds for seconds in technique.cycle_seconds)
    fast, slow = fast / (1 - pace.drift), slow / (1 + pace.drift)
    if technique.family.is_held:
        return (Fraction(beats),) if fast <= beats <= slow else ()
    found = [Fraction(1, 2)] if fast <= Fraction(1, 2) <= slow else []
    found += [
        Fraction(n)
        for n in range(max(1, math.ceil(fast)), min(math.floor(slow), beats) + 1)
        if beats % n == 0
    ]
    return tuple(found)


def best(technique: Technique, frame: Frame, bars: int, pressure: int) -> Fraction | None:
    """Return the best stroke length: calm where it should be, near the ease of the intention,
    and of a simple musical length; None where none fits."""
    return _best(technique, _pace_of(frame), bars, pressure)


@lru_cache(maxsize=_REMEMBERED)
def _best(technique: Technique, pace: _Pace, bars: int, pressure: int) -> Fraction | None:
    fast, slow = (float(s) for s in technique.cycle_seconds)
    plain = _plain(pace.beats_per_bar)
    ideal = math.log(fast) + _EASE[pace.intention] * (math.log(slow) - math.log(fast))

    def rating(beats: Fraction) -> tuple[float, Fraction]:
        seconds = float(beats * pace.beat_seconds)
        simple = 0.0 if beats in plain else 0.5
        strain = speed.strain(technique, pressure, seconds, pace.intention)
        return 4 * strain + abs(math.log(seconds) - ideal) + simple, beats

    fitting = _choices(technique, pace, bars)
    return min(fitting, key=rating) if fitting else None


def _plain(beats_per_bar: int) -> tuple[Fraction, ...]:
    """Return the simple lengths: half a beat, a beat, half a bar, and one, two and four bars."""
    bar = Fraction(beats_per_bar)
    half = (bar / 2,) if beats_per_bar % 2 == 0 else ()
    return (Fraction(1, 2), Fraction(1), *half, bar, 2 * bar, 4 * bar)


def first_landing(technique: Technique, beats_per_stroke: Fraction) -> Fraction:
    """Return the beat of the passage at which its first stroke lands."""
    if technique.landing is Landing.CONTACT or beats_per_stroke <= 1:
        return Fraction(0)
    return Fraction(math.floor(beats_per_stroke / 2))
