"""Exact musical time: bars and beats are whole or rational; seconds come last.

A routine's clock is its tempo map, or, with a brought track, the second of every beat.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import accumulate, pairwise
from typing import NewType

Seconds = NewType("Seconds", float)
Beats = Fraction  # counted from the start of the routine, or of a passage where said
Bars = NewType("Bars", int)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tempo:
    """From `bar` on, `bpm` beats a minute."""

    bar: int
    bpm: Fraction

    def __post_init__(self) -> None:
        if self.bar < 0 or self.bpm <= 0:
            raise ValueError("a tempo starts at bar 0 or later and is above 0 beats a minute")


@dataclass(frozen=True, kw_only=True)
class Clock:
    """Turns beats of a routine into seconds of its session, and back.

    Built from a tempo map (`tempi`, in order, the first at bar 0) or, where a track is
    brought, from `beat_seconds`: the second of every beat and of the end, strictly rising.
    """

    beats_per_bar: int
    bars: int
    tempi: tuple[Tempo, ...]
    beat_seconds: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not self.beat_seconds and (not self.tempi or self.tempi[0].bar != 0):
            raise ValueError("the first tempo must stand at bar 0")
        if any(a.bar >= b.bar for a, b in pairwise(self.tempi)):
            raise ValueError("tempi must be in order of bars")
        if self.beat_seconds and len(self.beat_seconds) != self.beats + 1:
            raise ValueError("a track needs the second of every beat and of the end")
        if any(a >= b for a, b in pairwise(self.beat_seconds)):
            raise ValueError("the seconds of the beats must rise")

    @property
    def beats(self) -> int:
        """Whole beats from start to end."""
        return self.bars * self.beats_per_bar

    @property
    def is_steady(self) -> bool:
        """True where one tempo rules from start to end."""
        return not self.beat_seconds and len(self.tempi) == 1

    @cached_property
    def _starts(self) -> tuple[Fraction, ...]:
        """The exact second at which each tempo begins."""
        spans = (
            Fraction((b.bar - a.bar) * self.beats_per_bar * 60) / a.bpm
            for a, b in pairwise(self.tempi)
        )
        return tuple(accumulate(spans, initial=Fraction(0)))

    def exact_seconds_at(self, beat: Fraction | int) -> Fraction:
        """Return the exact second of `beat` under the tempo map (beats past the end go on)."""
        i = max(bisect_right([t.bar * self.beats_per_bar for t in self.tempi], beat) - 1, 0)
        since = beat - self.tempi[i].bar * self.beats_per_bar
        return self._starts[i] + Fraction(since) * 60 / self.tempi[i].bpm

    def seconds_at(self, beat: Fraction | int | float) -> Seconds:
        """Return the second of `beat`, counted from the start of the routine."""
        if not self.beat_seconds:
            return Seconds(self._nearest_to_exact(beat))
        last = len(self.beat_seconds) - 1
        whole = min(max(int(beat), 0), last - 1)
        here, there = self.beat_seconds[whole], self.beat_seconds[whole + 1]
        return Seconds(here + (there - here) * (float(beat) - whole))

    @cached_property
    def _tempo_numbers(self) -> tuple[tuple[int, int, int, int, int], ...]:
        """Of each tempo its first beat, and its start and its bpm as numerator and denominator."""
        return tuple(
            (t.bar * self.beats_per_bar, *start.as_integer_ratio(), *t.bpm.as_integer_ratio())
            for t, start in zip(self.tempi, self._starts, strict=True)
        )

    def _nearest_to_exact(self, beat: Fraction | int | float) -> float:
        """Return the float nearest to `exact_seconds_at`.

        A page asks this for every stroke; whole numbers give it many times sooner than fractions,
        and a quotient of two of them is rounded rightly.
        """
        top, below = beat.as_integer_ratio()
        numbers = self._tempo_numbers
        i = len(numbers) - 1
        while i and beat < numbers[i][0]:
            i -= 1
        first, start, start_below, bpm, bpm_below = numbers[i]
        since = (top - first * below) * 60 * bpm_below
        since_below = below * bpm
        return (start * since_below + since * start_below) / (start_below * since_below)

    def seconds_at_bar(self, bar: int | float) -> Seconds:
        """Return the second at which `bar` begins."""
        return self.seconds_at(Fraction(bar) * self.beats_per_bar)

    def beat_at(self, seconds: float) -> float:
        """Return the beat, with its fraction, that sounds at `seconds`."""
        if self.beat_seconds:
            times: Sequence[float] = self.beat_seconds
            i = min(max(bisect_right(times, seconds) - 1, 0), len(times) - 2)
            return i + (seconds - times[i]) / (times[i + 1] - times[i])
        i = max(bisect_right(self._starts, Fraction(seconds)) - 1, 0)
        since = seconds - float(self._starts[i])
        return self.tempi[i].bar * self.beats_per_bar + since * float(self.tempi[i].bpm) / 60

    @property
    def total_seconds(self) -> Seconds:
        """The length of the routine."""
        return self.seconds_at(self.beats)

    def bar_seconds(self) -> Seconds:
        """Return the mean length of one bar."""
        return Seconds(self.total_seconds / self.bars)


def as_minutes(seconds: float) -> str:
    """Return `seconds` as m:ss, rounded to the nearest second.

    >>> as_minutes(569.6)
    '9:30'
    """
    whole = int(seconds + 0.5)
    return f"{whole // 60}:{whole % 60:02d}"
