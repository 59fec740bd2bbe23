"""The grid of one routine: how many bars, how long each, and where its limits lie in bars."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from rondel.model.brief import Brief
from rondel.model.track import Laid
from rondel.planner.constraints import length
from rondel.rules.length import (
    ARRIVE_SECONDS,
    ORDINARY_SECONDS,
    REFRAIN_SECONDS,
    REST_SECONDS,
)

#: Seconds of a phrase that a step of the search should come near to.
_LONGEST_STEP_SECONDS = 20
_SHORTEST_STEP_SECONDS = 8
_CLOSE_SECONDS = (30, 80)  # the closing passage; common practice, no source


@dataclass(frozen=True, kw_only=True)
class Frame:
    """Bars and seconds of a brief. `step` is the phrase, in bars, that passages are made of.

    With a track that is laid out, the tempo may drift: what hangs on a place in time is then read
    from the track's own beats, and what hangs on a length keeps a margin for the drift.
    """

    brief: Brief
    bars: int
    bpm: Fraction
    step: int
    refrains: int

    @property
    def laid(self) -> Laid | None:
        """The track, laid out; None where the music is composed."""
        return self.brief.laid

    @cached_property
    def beats_per_bar(self) -> int:
        return self.laid.beats_per_bar if self.laid else length.BEATS_PER_BAR

    @cached_property
    def drift(self) -> Fraction:
        """The share by which bars may be quicker or slower than the mean."""
        return self.laid.drift if self.laid else Fraction(0)

    @cached_property
    def bar_seconds(self) -> Fraction:
        """The length of a bar; with a track, the mean."""
        return Fraction(60 * self.beats_per_bar) / self.bpm

    @cached_property
    def beat_seconds(self) -> Fraction:
        return Fraction(60) / self.bpm

    @cached_property
    def _quickest_bar(self) -> Fraction:
        return self.bar_seconds * (1 - self.drift)

    @cached_property
    def _slowest_bar(self) -> Fraction:
        return self.bar_seconds * (1 + self.drift)

    @cached_property
    def scale(self) -> Fraction:
        return self.brief.scale

    @property
    def total_seconds(self) -> Fraction:
        return self.bars * self.bar_seconds

    def minutes_of(self, bars: int) -> float:
        return float(bars * self.bar_seconds / 60)

    def at_least(self, seconds: Fraction | int) -> int:
        """Return the fewest whole bars that last `seconds`."""
        return max(1, math.ceil(seconds / self._quickest_bar))

    def at_most(self, seconds: Fraction | int) -> int:
        """Return the most whole bars that fit into `seconds`."""
        return math.floor(seconds / self._slowest_bar)

    def seconds_at(self, bar: int) -> Fraction:
        """Return when `bar` begins: with a track, to the thousandth, by its own beats."""
        if self.laid is None:
            return bar * self.bar_seconds
        return Fraction(round(1000 * self.laid.bar_starts[min(bar, self.bars)]), 1000)

    def nearest_bar(self, seconds: Fraction) -> int:
        """Return the bar that begins nearest to `seconds` after the start, or the end; past the
        end, bars are counted as if they went on evenly."""
        if self.laid is None or seconds > self.laid.total_seconds:
            return round(seconds / self.bar_seconds)
        starts = self.laid.bar_starts
        return min(range(len(starts)), key=lambda bar: abs(starts[bar] - float(seconds)))

    def first_bar_from(self, seconds: Fraction | int) -> int:
        """Return the first bar that begins `seconds` after the start, or later."""
        if self.laid is None:
            return self.at_least(seconds)
        return min(self.bars, max(1, bisect_left(self.laid.bar_starts, float(seconds) - 1e-6)))

    def last_bar_before(self, seconds: Fraction | int) -> int:
        """Return the last bar that begins `seconds` before the end, or earlier."""
        if self.laid is None:
            return self.bars - self.at_least(seconds)
        until = self.laid.total_seconds - float(seconds) + 1e-6
        return max(0, bisect_right(self.laid.bar_starts, until) - 1)

    def off_phrase(self, even: int) -> int:
        """Return how many bars the first whole phrase comes after the beginning, less than `step`:
        where most phrases of the track do, or `even` where the music is composed."""
        if self.laid is None:
            return even
        votes = Counter(bar % self.step for bar in self.laid.course.phrases)
        return min(votes, key=lambda off: (-votes[off], off)) if votes else even

    @property
    def astray(self) -> Fraction:
        """The most bars by which a bar begins before or after its even place in time."""
        if self.laid is None:
            return Fraction(0)
        bar = self.laid.total_seconds / self.bars
        apart = (abs(at / bar - number) for number, at in enumerate(self.laid.bar_starts))
        return Fraction(max(apart)).limit_denominator(10_000)

    def span(self, seconds: tuple[int, int]) -> tuple[int, int]:
        """Return the bars between a scaled least and a plain most number of seconds."""
        low = self.at_least(seconds[0] * self.scale)
        return low, max(low, self.at_most(seconds[1]))

    @cached_property
    def ordinary(self) -> tuple[int, int]:
        return self.span(ORDINARY_SECONDS)

    @cached_property
    def rest(self) -> tuple[int, int]:
        return self.span(REST_SECONDS)

    @cached_property
    def home(self) -> tuple[int, int]:
        return self.span(REFRAIN_SECONDS)

    @cached_property
    def arrival(self) -> tuple[int, int]:
        return self.span(ARRIVE_SECONDS)

    @cached_property
    def closing(self) -> tuple[int, int]:
        return self.span(_CLOSE_SECONDS)


def usual_refrains(minutes: Fraction) -> int:
    """Return how often the refrain returns where the brief leaves it open: four in 15 minutes.

    Longer forms breathe more widely, so the number grows more slowly than the time
    (common practice for the four; the growth is our choice).
    """
    return max(1, round(4.0 * math.pow(float(minutes) / 15, 0.75)))


def frame_of(brief: Brief, *, refrains: int | None = None, fine: bool = False) -> Frame:
    """Return the grid for `brief`; `fine` halves the phrases down to two bars or fewer."""
    if brief.laid is not None and brief.laid.minutes != brief.minutes:
        brief = replace(brief, laid=None)  # laid out for another time: the track is of no use here
    bars, bpm = length.bars_and_bpm(brief)
    beats_per_bar = brief.laid.beats_per_bar if brief.laid else length.BEATS_PER_BAR
    bar_seconds = float(Fraction(60 * beats_per_bar) / bpm)
    step = 4
    while step > 1 and step * bar_seconds > _LONGEST_STEP_SECONDS * max(0.5, float(brief.scale)):
        step //= 2
    while step * bar_seconds < _SHORTEST_STEP_SECONDS * float(brief.scale):
        step *= 2
    if fine or any(k.at_seconds is not None for k in brief.keep):
        step = min(step, 2)
    asked = brief.refrains if brief.refrains is not None else usual_refrains(brief.minutes)
    return Frame(
        brief=brief,
        bars=bars,
        bpm=bpm,
        step=step,
        refrains=refrains if refrains is not None else asked,
    )
