"""Where deep work is not answered by rest, on its own side, for half as long.

Rest is what follows at once: passages at 2 or less on the same region and side, then perhaps the
refrain. Their times add up.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.blocks import Block
from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.words import Role
from rondel.rules.rest import MAX_PRESSURE, RULE, SHARE


def findings(view: View) -> Iterator[Finding]:
    for run in view.runs:
        worked = view.seconds(*run.work)
        rested = rested_seconds(view, run)
        if rested < worked * SHARE - ROUNDING_SECONDS:
            region = view.region(run.first)
            where = view.region_name(region, run.side) if region else "the same place"
            says = (
                f"{view.place(run.first)} works deep for {worked:.0f} seconds and is followed by "
                f"{rested:.0f} seconds of rest; give {where} at least {worked * SHARE:.0f} at "
                f"{MAX_PRESSURE} or less, or go home to the refrain."
            )
            yield view.finding(RULE, run.first.start_bar, says)


def rested_seconds(view: View, run: Block) -> float:
    """Return how long the rest after `run` lasts: what the block holds, then a refrain."""
    rested = view.seconds(*run.rest)
    for passage in view.line[run.past :]:
        if passage.role is not Role.REFRAIN:
            break
        rested += view.seconds(passage)
    return rested
