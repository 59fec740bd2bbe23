"""Where a calming glide moves slower than 1 or faster than 10 cm a second.

Calming: a glide at 2 or less, to settle or to sleep. The speed is the path of a stroke by its
seconds, on a small and on a large body (`rondel.checker.bodies`).
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.measures import CALMING, glide_speed, is_light_glide
from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.rules.speed import CM_PER_SECOND, RULE

#: Speeds are compared to a thousandth, so that a stroke right on the edge is no strain.
SAME_SPEED = 0.001


def findings(view: View) -> Iterator[Finding]:
    if view.intention not in CALMING:
        return
    slowest, fastest = CM_PER_SECOND
    for passage in view.passages:
        speed = glide_speed(view, passage) if is_light_glide(view, passage) else None
        if speed is None:
            continue
        range_ = f"calming glides move at {slowest} to {fastest}"
        if speed.large_body > fastest + SAME_SPEED:
            says = f"{view.place(passage)} moves at {speed.large_body:.1f} cm a second on a large"
            yield view.finding(
                RULE, passage.start_bar, f"{says} body; {range_}. Give a stroke more beats."
            )
        if speed.small_body < slowest - SAME_SPEED:
            says = f"{view.place(passage)} moves at {speed.small_body:.1f} cm a second on a small"
            yield view.finding(
                RULE, passage.start_bar, f"{says} body; {range_}. Give a stroke fewer beats."
            )
