"""Where both hands have to leave the body between two passages.

They do where the regions are not neighbours and neither stroke passes over the other's region,
unless the receiver turns over, or has just been helped to. Open passages are the couple's own. The
rule `reach` says which of these ways are forbidden; this one minds the others, as from the feet
home to the refrain.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.repertoire import Technique
from rondel.rules.contact_kept import RULE


def findings(view: View) -> Iterator[Finding]:
    for before, after in view.steps:
        left, entered = view.technique(before), view.technique(after)
        turns = before.position is not after.position or view.is_turning(before)
        if left is None or entered is None or turns:
            continue
        if not _may_stay(view, left, entered):
            says = (
                f"Between {view.place(before)} and {view.place(after)} both hands leave the body, "
                f"from {view.region_name(left.region)} to "
                f"{view.region_name(entered.region)}; let one hand travel along."
            )
            yield view.finding(RULE, after.start_bar, says)


def _may_stay(view: View, left: Technique, entered: Technique) -> bool:
    if view.region_of(left) is None or view.region_of(entered) is None:
        return True
    return any(
        view.craft.are_neighbours(one, other)
        for one in view.touched(left)
        for other in view.touched(entered)
        if view.craft.has_region(one) and view.craft.has_region(other)
    )
