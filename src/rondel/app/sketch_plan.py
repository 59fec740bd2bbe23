"""A first plan for a brief while it is still being written: quick, and no proof asked for."""

from __future__ import annotations

from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.planner.attempts import QUICK
from rondel.planner.plan import plan


def sketch_plan(brief: Brief, craft: Craft) -> Outcome:
    """Return a routine without reasons or cues; or why there is none, and what may be loosened.

    What is found here is found again by `make_plan`, which looks further.
    """
    return plan(brief, craft, effort=QUICK)
