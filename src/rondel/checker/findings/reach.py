"""Where hands jump to a region that is no neighbour of the one they leave.

The refrain, an embrace, a still hold and an open passage may be left for anywhere and reached from
anywhere. A technique or region that is not known is a finding of `range`, and skipped here.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.words import Family, Role
from rondel.rules.reach import RULE


def findings(view: View) -> Iterator[Finding]:
    for before, after in view.steps:
        if _is_bridge(view, before) or _is_bridge(view, after):
            continue
        left, entered = view.technique(before), view.technique(after)
        if left is None or entered is None:
            continue
        known = view.region_of(left) is not None and view.region_of(entered) is not None
        if known and not view.craft.are_neighbours(left.region, entered.region):
            says = (
                f"{view.place(after)} jumps from {view.region_name(left.region)} to "
                f"{view.region_name(entered.region)}, which are not neighbours; go there by way "
                "of a neighbour, the refrain or a still hold."
            )
            yield view.finding(RULE, after.start_bar, says)


def _is_bridge(view: View, passage: Passage) -> bool:
    return (
        passage.role is Role.REFRAIN
        or passage.is_open
        or view.family(passage) is Family.EMBRACE
        or view.is_still(passage)
    )
