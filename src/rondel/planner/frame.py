"""The grid of one routine: how many bars, how long each, and where its limits lie in bars."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from rondel.model.brief import Brief
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Bars and seconds of a brief. `step` is the phrase, in bars, that passages are made of."""

    brief: Brief
    bars: int
    bpm: Fraction
    step: int
    refrains: int

    @property
    def bar_seconds(self) -> Fraction:
        return Fraction(60 * length.BEATS_PER_BAR) / self.bpm

    @property
    def beat_seconds(self) -> Fraction:
        return Fraction(60) / self.bpm

    @property
    def scale(self) -> Fraction:
        return self.brief.scale

    @property
    def total_seconds(self) -> Fraction:
        return self.bars * self.bar_seconds

    def minutes_of(self, bars: int) -> float:
        return float(bars * self.bar_seconds / 60)

    def at_least(self, seconds: Fraction | int) -> int:
        """Return the fewest whole bars that last `seconds`."""
        return max(1, math.ceil(seconds / self.bar_seconds))

    def at_most(self, seconds: Fraction | int) -> int:
        """Return the most whole bars that fit into `seconds`."""
        return math.floor(seconds / self.bar_seconds)

    def span(self, seconds: tuple[int, int]) -> tuple[int, int]:
        """Return the bars between a scaled least and a plain most number of seconds."""
        low = self.at_least(seconds[0] * self.scale)
        return low, max(low, self.at_most(seconds[1]))

    @property
    def ordinary(self) -> tuple[int, int]:
        return self.span(ORDINARY_SECONDS)

    @property
    def rest(self) -> tuple[int, int]:
        return self.span(REST_SECONDS)

    @property
    def home(self) -> tuple[int, int]:
        return self.span(REFRAIN_SECONDS)

    @property
    def arrival(self) -> tuple[int, int]:
        return self.span(ARRIVE_SECONDS)

    @property
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
    bars, bpm = length.bars_and_bpm(brief)
    bar_seconds = float(Fraction(60 * length.BEATS_PER_BAR) / bpm)
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
