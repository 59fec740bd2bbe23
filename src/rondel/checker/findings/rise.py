"""Where pressure rises by more than one from a passage to the next.

Counted: a still hold 1, an open passage 2; on leaving the refrain, its firmest passage. The first
passage of the second block of a pair is exempt, and so is the first of the routine.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.words import Role
from rondel.rules.rise import MAX_STEP, RULE


def findings(view: View) -> Iterator[Finding]:
    seconds_of_pairs = {
        block.at
        for i, (block, partner) in enumerate(zip(view.blocks, view.partners, strict=True))
        if partner is not None and partner < i
    }
    for place, (before, after) in enumerate(view.steps, start=1):
        left = _counted_on_leaving(view, place)
        rise = view.counted(after) - left
        if rise > MAX_STEP and place not in seconds_of_pairs:
            says = (
                f"{view.place(after)} presses at {view.counted(after)} right after "
                f"{view.name(before)}, which counts {left}; rise by one at a time."
            )
            yield view.finding(RULE, after.start_bar, says)


def _counted_on_leaving(view: View, place: int) -> int:
    """Return what the passage before `place` counts as the next begins."""
    before, after = view.line[place - 1], view.line[place]
    if before.role is not Role.REFRAIN or after.role is Role.REFRAIN:
        return view.counted(before)
    first = place - 1
    while first > 0 and view.line[first - 1].role is Role.REFRAIN:
        first -= 1
    return max(view.counted(p) for p in view.line[first:place])
