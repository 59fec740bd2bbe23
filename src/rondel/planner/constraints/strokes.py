"""Which stroke lengths, in beats, a passage may have, and which is best."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple, cast

from rondel.model.repertoire import Technique
from rondel.model.words import Intention, Landing
from rondel.planner.constraints import speed
from rondel.planner.frame import Frame

_REMEMBERED = 64  # paces

#: Where in the taught range (0 the fastest, 1 the slowest, on a log scale) a stroke should lie.
_EASE = {
    Intention.SETTLE: 0.55,
    Intention.SLEEP: 0.7,
    Intention.CLOSENESS: 0.6,
    Intention.WAKE: 0.3,
}


class _Pace(NamedTuple):
    """What of a frame the lengths hang on."""

    intention: Intention
    beat_seconds: Fraction
    beats_per_bar: int
    drift: Fraction


class _Book:
    """Lengths at one pace. They are remembered: a brief that is planned again, a little changed,
    asks for the same ones."""

    def __init__(self, pace: _Pace) -> None:
        self.pace = pace
        self._plain = _plain(pace.beats_per_bar)
        self._choices: dict[tuple[Technique, int], tuple[Fraction, ...]] = {}
        self._best: dict[tuple[Technique, int, int], Fraction | None] = {}

    def choices(self, technique: Technique, bars: int) -> tuple[Fraction, ...]:
        key = technique, bars
        if key not in self._choices:
            self._choices[key] = tuple(_choices(technique, self.pace, bars))
        return self._choices[key]

    def best(self, technique: Technique, bars: int, pressure: int) -> Fraction | None:
        key = technique, bars, pressure
        if key not in self._best:
            fitting = self.choices(technique, bars)
            rating = self._rating(technique, pressure)
            self._best[key] = min(fitting, key=rating) if fitting else None
        return self._best[key]

    def _rating(
        self, technique: Technique, pressure: int
    ) -> Callable[[Fraction], tuple[float, Fraction]]:
        """Return what tells how good a length is (less: better)."""
        pace = self.pace
        fast, slow = (float(s) for s in technique.cycle_seconds)
        ideal = math.log(fast) + _EASE[pace.intention] * (math.log(slow) - math.log(fast))

        def rating(beats: Fraction) -> tuple[float, Fraction]:
            seconds = float(beats * pace.beat_seconds)
            simple = 0.0 if beats in self._plain else 0.5
            strain = speed.strain(technique, pressure, seconds, pace.intention)
            return 4 * strain + abs(math.log(seconds) - ideal) + simple, beats

        return rating


@lru_cache(maxsize=_REMEMBERED)
def _book_at(pace: _Pace) -> _Book:
    return _Book(pace)


def _book_of(frame: Frame) -> _Book:
    """Return the book of a frame, which the frame itself remembers: it is asked for very often."""
    known = frame.__dict__.get("stroke_book")
    if known is None:
        known = _book_at(
            _Pace(frame.brief.intention, frame.beat_seconds, frame.beats_per_bar, frame.drift)
        )
        frame.__dict__["stroke_book"] = known
    return cast("_Book", known)


def choices(technique: Technique, frame: Frame, bars: int) -> tuple[Fraction, ...]:
    """Return every stroke length that fills `bars` and lies in the taught range, shortest first.

    A hold or embrace is one stroke as long as itself, and must lie in its range too.
    """
    return _book_of(frame).choices(technique, bars)


def best(technique: Technique, frame: Frame, bars: int, pressure: int) -> Fraction | None:
    """Return the best stroke length: calm where it should be, near the ease of the intention,
    and of a simple musical length; None where none fits."""
    return _book_of(frame).best(technique, bars, pressure)


def _choices(technique: Technique, pace: _Pace, bars: int) -> Iterator[Fraction]:
    """Yield the lengths that fill `bars`."""
    beats = bars * pace.beats_per_bar
    fast, slow = (seconds / pace.beat_seconds for seconds in technique.cycle_seconds)
    fast, slow = fast / (1 - pace.drift), slow / (1 + pace.drift)
    if technique.family.is_held:
        if fast <= beats <= slow:
            yield Fraction(beats)
        return
    if fast <= Fraction(1, 2) <= slow:
        yield Fraction(1, 2)
    for number in range(max(1, math.ceil(fast)), min(math.floor(slow), beats) + 1):
        if beats % number == 0:
            yield Fraction(number)


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
