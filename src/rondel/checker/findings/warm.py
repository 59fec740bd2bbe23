"""Where a region is worked deep before it is warm.

Only passages on that very region at pressure 1 to 3, earlier in the line, warm it: on the same
side, on both or in the centre. For deep work on both sides or in the centre the time that
left and right have had alike counts as well.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.words import PRESSURE_SAYS, Side
from rondel.rules.warm import PRESSURES, RULE, SECONDS


def findings(view: View) -> Iterator[Finding]:
    needed = SECONDS * view.scale
    for run in view.runs:
        region, side = view.region(run.first), run.side
        if region is None:
            continue
        had = warmed_seconds(view, region, side, before=run.at)
        if had < needed - ROUNDING_SECONDS:
            says = (
                f"{view.place(run.first)} goes in at {run.first.pressure} "
                f"({PRESSURE_SAYS[run.first.pressure]}), but only {had:.0f} of "
                f"{needed:.0f} seconds at 1 to 3 have warmed {view.region_name(region, side)}; "
                "warm it first."
            )
            yield view.finding(RULE, run.first.start_bar, says)


def warmed_seconds(view: View, region: str, side: Side, *, before: int) -> float:
    """Return the seconds of warming among the first `before` passages of the line."""
    had = dict.fromkeys(Side, 0.0)
    for passage in view.line[:before]:
        if view.region(passage) == region and PRESSURES[0] <= passage.pressure <= PRESSURES[1]:
            had[passage.side] += view.seconds(passage)
    both = had[Side.BOTH] + had[Side.CENTRE]
    if side.is_one_sided:
        return both + had[side]
    return both + min(had[Side.LEFT], had[Side.RIGHT])
