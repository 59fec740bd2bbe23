"""Wishes of good taste that no rule names: small costs that choose between lawful plans."""

from __future__ import annotations

import math

from rondel.model.brief import Brief
from rondel.model.words import Family, Intention, Position
from rondel.planner.constraints import peak, positions
from rondel.planner.frame import Frame
from rondel.rules.curve import ENDINGS

#: Gaps that a return may stand away from its even place, where there are few, and where more than
#: `_FEW`: an hour's gaps are soon heard as uneven, and fewer places are sooner searched.
_ASTRAY, _ASTRAY_OF_MANY, _FEW = 0.75, 0.5, 8
SPREAD = 3.0  # refrains away from an even grid, squared in gaps
TURNED = 1.5  # a change of position that the brief did not name
TURNED_ASKED = 0.3  # a change between positions that the brief names
NO_STRETCH = 1.5  # a stretch passage is allowed, and none is there
PEAK_ELSEWHERE = 3.0  # the peak is not on a main region
LIGHT_PEAK = 3.0  # the peak is lighter than the wish and the limits allow, by level
SHORT_PEAK = 2.0  # the peak row is over at once, by the share that it lacks
SITTING = 3.0  # sitting up to fall asleep, or for long, where the brief names no position
TOKEN_TURN = 3.0  # a turning over that leaves a position next to no time, by the share it lacks
HOME = 0.5  # a home that would serve less well than the best one, by what it lacks
ENDING = 3.0  # a last passage that the intention does not wish for
UNTURNED = 4.0  # a turning over that was named, or that a long form needs, is left out
RATHER = 1.0  # a minute of what the brief does not prefer, where it prefers anything
OPEN_PLACE = 2.0  # open bars away from their even places, squared in quarters of the time

_LONG_SECONDS = 90
_PEAK_SECONDS = 120  # scaled; in long forms
_PEAK_PART = 20  # the twentieth part of the time, if that is more
_SHORT_SECONDS = 40
_SHORTEST_TURNED_MINUTES = 12
_LONG_FORM_MINUTES = 40
_LONG_SITTING_MINUTES = 20  # then it grows with the time; common practice, no source


def length_cost(frame: Frame, bars: int) -> float:
    """Return what a passage of work costs for being tiring or hurried."""
    seconds = float(bars * frame.bar_seconds)
    if seconds > _LONG_SECONDS:
        return 0.3 * (seconds - _LONG_SECONDS) / 15
    return 0.3 if seconds < _SHORT_SECONDS * float(frame.scale) else 0.0


def rather_cost(brief: Brief, technique: str, minutes: float) -> float:
    """Return what so many minutes of `technique` cost for being none of those preferred."""
    return RATHER * minutes if brief.prefer and technique not in brief.prefer else 0.0


def even_gap(bars: int, refrains: int, length: int) -> float:
    """Return the bars between returns of `length` if all gaps were alike."""
    return max(1.0, (bars - refrains * length) / (refrains + 1))


def return_window(
    bars: int, refrains: int, length: int, done: int, *, is_wide: bool
) -> tuple[int, int]:
    """Return the first and the last bar at which return number `done` may start: near its even
    place, so that the form can be heard; anywhere, where that is `is_wide`."""
    if is_wide:
        return 0, bars
    gap = even_gap(bars, refrains, length)
    even = gap * (done + 1) + length * done
    astray = gap * (_ASTRAY_OF_MANY if refrains > _FEW else _ASTRAY)
    return math.ceil(even - astray), math.floor(even + astray)


def spread_cost(bars: int, refrains: int, length: int, done: int, start: int) -> float:
    """Return what return number `done` costs for starting away from the even grid."""
    gap = even_gap(bars, refrains, length)
    return SPREAD * ((start - gap * (done + 1) - length * done) / gap) ** 2


def open_cost(bars: int, pieces: int, done: int, start: int, length: int) -> float:
    """Return what open passage number `done` of `pieces` costs for standing elsewhere.

    A single one is best at three quarters, when the couple has warmed to it; several are spread.
    """
    wished = 0.75 if pieces == 1 else (done + 1) / (pieces + 0.5)
    middle = (start + length / 2) / bars
    return OPEN_PLACE * (4 * (middle - wished)) ** 2


def turned_cost(brief: Brief) -> float:
    """Return what a change of position costs; little where the brief names several."""
    return TURNED_ASKED if len(brief.positions) > 1 else TURNED


def wished_turns(brief: Brief, *, are_apart: bool) -> int:
    """Return how often the receiver should turn over: once to each further position that the brief
    names, where the rule lets it; once where the main regions `are_apart` (no position serves them
    all), and once in a long form (common practice, no source)."""
    if len(brief.positions) == 1 or brief.minutes < _SHORTEST_TURNED_MINUTES:
        return 0
    if brief.positions:
        return min(len(brief.positions) - 1, positions.most_changes(brief.minutes))
    return 1 if are_apart or brief.minutes >= _LONG_FORM_MINUTES else 0


def unturned_cost(wished: int, turns: int) -> float:
    """Return what it costs that the receiver turns over only `turns` times."""
    return UNTURNED * max(0, wished - turns)


def token_cost(bars: int, wished: int, start: int, end: int) -> float:
    """Return what a turning from bar `start` to `end` costs for leaving too little time before or
    after it: half of an even part of `bars`, if the receiver turns as often as `wished`."""
    least = bars / (2 * (max(1, wished) + 1))
    return TOKEN_TURN * (max(0.0, least - start) + max(0.0, least - (bars - end))) / least


def ending_cost(intention: Intention, family: Family, energy: float) -> float:
    """Return what a last passage of `family` costs; some intentions end in a certain way."""
    ending = ENDINGS[intention]
    cost = ENDING if ending.families and family not in ending.families else 0.0
    return cost + (ENDING / 2 if energy < ending.min_energy else 0.0)


def position_cost(brief: Brief, position: Position) -> float:
    """Return what it costs to begin in `position`, or to turn to it."""
    if brief.positions or position is not Position.SEATED:
        return 0.0
    if brief.minutes > _LONG_SITTING_MINUTES:
        return SITTING * float(brief.minutes) / _LONG_SITTING_MINUTES
    return SITTING if brief.intention is Intention.SLEEP else 0.0


def light_peak_cost(intention: Intention, highest: int, pressure: int) -> float:
    """Return what a peak at `pressure` costs where the hands may go up to `highest`."""
    return LIGHT_PEAK * max(0, min(peak.WISHED[intention], highest) - pressure)


def peak_cost(frame: Frame, bars: int) -> float:
    """Return what a peak row of `bars` costs for being short."""
    wished = max(_PEAK_SECONDS * float(frame.scale), float(frame.total_seconds) / _PEAK_PART)
    return SHORT_PEAK * max(0.0, 1 - float(bars * frame.bar_seconds) / wished)
