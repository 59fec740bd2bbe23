"""Bring a technique that a couple has learned into their routine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rondel.app.explain_plan import with_reasons
from rondel.app.lawful import lawful_in
from rondel.app.make_plan import with_cues
from rondel.app.set_track import NOT_LAID
from rondel.model.brief import Brief
from rondel.model.codec.routine import with_laid
from rondel.model.errors import BadInput
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.grow import Grown, grow
from rondel.planner.swaps import noted


def _on_its_track(routine: Routine, wanted: Brief, at: str) -> Brief:
    """Return `wanted` with the track of `routine` laid out; BadInput where it is not told how."""
    planned = with_laid(replace(routine, brief=wanted)).brief
    is_alike = routine.brief is None or routine.brief.minutes == wanted.minutes
    if planned is None or planned.laid is None or not is_alike:
        raise BadInput(NOT_LAID, at=f"{at}: music")
    return planned


def grow_plan(
    routine: Routine, craft: Craft, learned: Sequence[str], *, at: str, brief: Brief | None = None
) -> Grown:
    """Return the routine with what was learned, its reasons and its cues; or why it cannot be.

    The brief is the one given, else the one that the routine carries. BadInput where there is
    none, or where something in routine or brief is not in the repertoire; `at` names the file.
    """
    wanted = brief if brief is not None else routine.brief
    if wanted is None:
        says = "this routine carries no brief, so nobody knows what it was to be; add one: --brief"
        raise BadInput(says, at=at)
    if routine.music.kind == "track":
        wanted = _on_its_track(routine, wanted, at)
    for passage in routine.passages:
        if passage.technique is not None and not craft.has_technique(passage.technique):
            says = f'the technique "{passage.technique}" is not in the repertoire'
            raise BadInput(says, at=f"{at}: passage {passage.id}")
    before = replace(routine, brief=wanted)
    grown = grow(routine, wanted, craft, learned, lawful_in(craft, before))
    if grown.outcome.routine is None:
        return grown
    told = noted(with_reasons(grown.outcome.routine, craft), grown.notes)
    return replace(grown, outcome=replace(grown.outcome, routine=with_cues(told, craft)))
