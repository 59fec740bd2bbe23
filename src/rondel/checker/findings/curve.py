"""Where pressure does not have the shape of the session: light, firmer towards the peak, light.

Counted pressure, weighted by time, in three spans: the first third, the span where the peak may
lie (55 to 85 percent) and the last tenth. The middle span is to be the firmest.
For `sleep` and `settle` energy goes down at the end as well; for `wake` it may not end lower
than it began.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.words import Intention
from rondel.rules.curve import RULE
from rondel.rules.peak import MIDDLE

FIRST = (0.0, 1 / 3)
LAST = (0.9, 1.0)

#: Differences below these are no strain: a fifth of a level, a tenth of the energy scale.
SAME_PRESSURE = 0.2
SAME_ENERGY = 0.1


def findings(view: View) -> Iterator[Finding]:
    pressures = [mean_over(view, span, view.counted) for span in (FIRST, MIDDLE, LAST)]
    first, middle, last = pressures
    if first is not None and middle is not None and first > middle + SAME_PRESSURE:
        says = f"The first third presses at {first:.1f} on average, the time around the peak at"
        yield view.finding(RULE, 0, f"{says} {middle:.1f}; begin lighter, or go deeper later.")
    if last is not None and middle is not None and last > middle + SAME_PRESSURE:
        says = f"The end presses at {last:.1f} on average, the time around the peak at"
        yield view.finding(RULE, view.routine.bars - 1, f"{says} {middle:.1f}; end lighter.")
    yield from _energy(view)


def _energy(view: View) -> Iterator[Finding]:
    def energy(passage: Passage) -> float | None:
        technique = view.technique(passage)
        return float(technique.energy) if technique else None

    first, middle, last = (mean_over(view, span, energy) for span in (FIRST, MIDDLE, LAST))
    calms = view.intention in (Intention.SLEEP, Intention.SETTLE)
    if calms and last is not None and middle is not None and last > middle + SAME_ENERGY:
        says = f"To {view.intention}, energy goes down at the end; it goes from {middle:.1f} to"
        yield view.finding(RULE, view.routine.bars - 1, f"{says} {last:.1f}.")
    wakes = view.intention is Intention.WAKE
    if wakes and first is not None and middle is not None and middle < first - SAME_ENERGY:
        says = f"To wake, energy rises towards the peak; it goes from {first:.1f} to {middle:.1f}."
        yield view.finding(RULE, view.bar_of(view.total_seconds * MIDDLE[0]), says)


def mean_over(
    view: View, span: tuple[float, float], value: Callable[[Passage], float | None]
) -> float | None:
    """Return the mean of `value`, weighted by time, over `span` (shares of the routine)."""
    low, high = (share * view.total_seconds for share in span)
    total = weight = 0.0
    for passage in view.line:
        seconds = min(view.end(passage), high) - max(view.start(passage), low)
        here = value(passage)
        if seconds > 0 and here is not None:
            total, weight = total + seconds * here, weight + seconds
    return total / weight if weight > 0 else None
