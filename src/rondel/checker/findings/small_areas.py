"""Where small spots are worked before a long stroke has gone over the region.

A stroke is long from 20 cm of path on, or from what the studio sets. A long stroke on the region
itself or over it (as one over the whole back) comes first; where the routine has none for the
region, nothing is strained. Holds are no strokes. Said once a region.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.rules.small_areas import RULE


def findings(view: View) -> Iterator[Finding]:
    strokes = [
        (p, t) for p in view.line if (t := view.technique(p)) is not None and not t.family.is_held
    ]
    long_cm = view.number(RULE, "long_cm")
    told: set[str] = set()
    for place, (passage, technique) in enumerate(strokes):
        region = technique.region
        if technique.path_cm >= long_cm or region in told:
            continue
        long_places = [
            i
            for i, (_, t) in enumerate(strokes)
            if t.path_cm >= long_cm and region in view.touched(t)
        ]
        if long_places and long_places[0] > place:
            told.add(region)
            later = strokes[long_places[0]][0]
            says = (
                f"{view.place(passage)} works a small area before the long strokes of "
                f"{view.place(later)} on {view.region_name(region)}; "
                "let the long ones go first."
            )
            yield view.finding(RULE, passage.start_bar, says)
