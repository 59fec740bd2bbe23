"""Say why a routine is as it is: reasons for every passage, and the choices that mattered most."""

from __future__ import annotations

from rondel.app.lawful import lawful_in, minded_in
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.alternatives import Alternatives
from rondel.planner.mattered import what_mattered
from rondel.planner.preferred import preferred_told
from rondel.planner.track_reasons import with_track_reasons
from rondel.planner.verdicts import Verdicts
from rondel.planner.why import reasoned


def explain_plan(routine: Routine, craft: Craft) -> tuple[Routine, tuple[str, ...]]:
    """Return `routine` with the reasons of its passages, and what mattered most, in sentences.

    A routine without a brief is returned as it is: nobody knows what it was to be.
    """
    if routine.brief is None or not routine.passages:
        return routine, ()
    alternatives = _alternatives(routine, craft)
    verdicts = Verdicts(alternatives)
    told = with_track_reasons(reasoned(alternatives, verdicts), craft)
    mattered = what_mattered(alternatives, verdicts=verdicts)
    return told, (*preferred_told(routine, craft), *mattered)


def with_reasons(routine: Routine, craft: Craft) -> Routine:
    """Return `routine` with the reasons of its passages; one without a brief as it is."""
    if routine.brief is None or not routine.passages:
        return routine
    return with_track_reasons(reasoned(_alternatives(routine, craft)), craft)


def _alternatives(routine: Routine, craft: Craft) -> Alternatives:
    return Alternatives(routine, craft, lawful_in(craft, routine), minded_in(craft))
