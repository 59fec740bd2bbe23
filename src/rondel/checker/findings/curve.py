"""Where the routine is furthest from the curves of its intention, and where it ends otherwise.

A span of a fifth of the time, or of two minutes, slides over the routine; the mean of counted
pressure in it is held against the mean of the curve over the same moments, and energy likewise.
Left aside are the refrain, which stays itself, rests, which answer what was before, and open
passages. A routine that never presses as firmly as the curve is held against the curve drawn in to
its own highest pressure. Each curve is spoken of once, where the routine is furthest from it, and
only where that is far.
Why: docs/decisions/0007-curves.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import Intention, Role
from rondel.rules.curve import AIM_SAYS, ENDINGS, ENERGY, PRESSURE, RULE, Points, ending_says

#: The routine is looked at so many times, evenly.
MOMENTS = 200
#: A span is this share of the time, in a short routine so many seconds, but half of it at most.
SPAN_SHARE, SPAN_SECONDS, LONGEST_SPAN_SHARE = 0.2, 120, 0.5
#: A span of which less than this share counts (refrain, rest or left free) says too little.
MIN_COUNTED = 0.5

#: Roles that follow no curve.
ASIDE = (Role.REFRAIN, Role.REST)

#: Means further apart than these are far: levels of pressure, and energy on its scale of -1 to 1.
FAR_PRESSURE = 1.0
FAR_ENERGY = 0.6

#: The least that pressure counts.
LIGHTEST = 1.0

#: Intentions whose ending is spoken of where it is missed.
ENDING_TOLD = (Intention.SLEEP, Intention.CLOSENESS)


@dataclass(frozen=True, slots=True)
class _Apart:
    """The span that is furthest from a curve: its middle (seconds), and the two means."""

    middle: float
    has: float
    wished: float


def findings(view: View) -> Iterator[Finding]:
    yield from _pressure(view)
    yield from _energy(view)
    yield from _ending(view)


def _pressure(view: View) -> Iterator[Finding]:
    has = _moments(view, lambda p: float(view.counted(p)))
    firmest = max((h for h in has if h is not None and h > LIGHTEST), default=LIGHTEST)
    apart = _furthest(view, has, _drawn_in(PRESSURE[view.intention], firmest))
    if apart is not None and abs(apart.has - apart.wished) > FAR_PRESSURE:
        advice = "work lighter" if apart.has > apart.wished else "work firmer, within what is safe,"
        says = (
            f"Around {as_minutes(apart.middle)} it presses at {apart.has:.1f} on average, where "
            f"{apart.wished:.1f} is wished {AIM_SAYS[view.intention]}; {advice} there."
        )
        yield view.finding(RULE, view.bar_of(apart.middle), says)


def _energy(view: View) -> Iterator[Finding]:
    has = _moments(view, lambda p: float(t.energy) if (t := view.technique(p)) else None)
    apart = _furthest(view, has, ENERGY[view.intention])
    if apart is not None and abs(apart.has - apart.wished) > FAR_ENERGY:
        advice = "calmer" if apart.has > apart.wished else "livelier"
        says = (
            f"Around {as_minutes(apart.middle)} energy is {apart.has:.1f} on average (-1 still, 1 "
            f"lively), where {apart.wished:.1f} is wished {AIM_SAYS[view.intention]}; choose "
            f"{advice} work there."
        )
        yield view.finding(RULE, view.bar_of(apart.middle), says)


def _ending(view: View) -> Iterator[Finding]:
    """Where sleep or closeness does not end in a hold or an embrace; an open end is their own."""
    ending = ENDINGS[view.intention]
    last = max(view.line, key=lambda p: p.end_bar, default=None)
    family = view.family(last) if last is not None else None
    if last is None or family is None or family in ending.families:
        return
    if view.intention in ENDING_TOLD:
        aim = AIM_SAYS[view.intention]
        aim = aim[:1].upper() + aim[1:]
        says = f"{aim}, {ending_says(ending)} is wished at the end; {view.place(last)} is neither."
        yield view.finding(RULE, last.start_bar, says)


def _moments(view: View, value: Callable[[Passage], float | None]) -> list[float | None]:
    """Return `value` in the middle of each of `MOMENTS` parts; None where nothing counts."""
    found: list[float | None] = [None] * MOMENTS
    for passage in view.line:
        if passage.role in ASIDE or passage.is_open:
            continue
        first, past = (
            math.ceil(second / view.total_seconds * MOMENTS - 0.5)
            for second in (view.start(passage), view.end(passage))
        )
        here = value(passage)
        for i in range(max(first, 0), min(past, MOMENTS)):
            found[i] = here
    return found


def _drawn_in(points: Points, firmest: float) -> Points:
    """Return the curve with its summit lowered to `firmest`, the lightest end kept."""
    summit = max(value for _, value in points)
    share = min(1.0, (firmest - LIGHTEST) / (summit - LIGHTEST))
    return tuple((x, LIGHTEST + (value - LIGHTEST) * share) for x, value in points)


def _furthest(view: View, has: Sequence[float | None], points: Points) -> _Apart | None:
    """Return the span whose mean is furthest from the curve's; None where too little counts."""
    wished = [_on_curve(points, (i + 0.5) / MOMENTS) for i in range(MOMENTS)]
    share = min(max(SPAN_SHARE, SPAN_SECONDS / view.total_seconds), LONGEST_SPAN_SHARE)
    span = round(MOMENTS * share)
    worst: _Apart | None = None
    for first in range(MOMENTS - span + 1):
        pairs = [(h, wished[i]) for i in range(first, first + span) if (h := has[i]) is not None]
        if len(pairs) < MIN_COUNTED * span:
            continue
        middle = (first + span / 2) / MOMENTS * view.total_seconds
        means = (math.fsum(side) / len(pairs) for side in zip(*pairs, strict=True))
        here = _Apart(middle, *means)
        if worst is None or abs(here.has - here.wished) > abs(worst.has - worst.wished) + 1e-9:
            worst = here
    return worst


def _on_curve(points: Points, share: float) -> float:
    """Return the value of the curve at `share` of the time, on the line between two points."""
    after = next(i for i, (x, _) in enumerate(points) if x >= share)
    (x0, y0), (x1, y1) = points[after - 1], points[after]
    return y0 + (share - x0) / (x1 - x0) * (y1 - y0)
