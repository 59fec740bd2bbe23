"""Where pressure is above what region, level or cautions allow.

`trained` in the brief takes the trained columns; without a brief the lay limit of the region
counts. A caution's limit on a region holds for strokes that pass over it as well. A family that
the region forbids at any pressure is a finding of this rule.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.repertoire import Technique
from rondel.rules.limits import LEVEL_LIMITS, RULE, TRAINED_LEVEL_LIMITS


def findings(view: View) -> Iterator[Finding]:
    for passage, technique in view.known():
        limits = list(_limits(view, technique))
        if limits:
            limit, why = min(limits, key=lambda known: known[0])
            if passage.pressure > limit:
                says = f"{view.place(passage)} presses at {passage.pressure}; {limit} is the most"
                yield view.finding(RULE, passage.start_bar, f"{says} {why}.")
        region = view.region_of(technique)
        if region is not None and technique.family in region.forbidden_families:
            says = f"{view.place(passage)} is {technique.family}, which has no place on"
            yield view.finding(RULE, passage.start_bar, f"{says} {view.region_name(region.id)}.")


def _limits(view: View, technique: Technique) -> Iterator[tuple[int, str]]:
    """Yield each limit that holds, with what sets it."""
    brief = view.brief
    is_trained = brief is not None and brief.trained
    hand = "a trained hand" if is_trained else "a lay hand"
    region = view.region_of(technique)
    if region is not None:
        limit = region.trained_limit if is_trained else region.limit
        yield limit, f"for {hand} on {view.region_name(region.id)}"
    if brief is None:
        return
    levels = TRAINED_LEVEL_LIMITS if is_trained else LEVEL_LIMITS
    yield levels[brief.level], f"for {hand} of level {brief.level}"
    for id in brief.cautions:
        if not view.craft.has_caution(id):
            continue
        caution = view.craft.caution(id)
        yield caution.forbids.max_pressure, f'under the caution "{caution.name}"'
        for place, limit in caution.forbids.region_limits:
            if place in view.touched(technique):
                yield limit, f'on {view.region_name(place)} under the caution "{caution.name}"'
