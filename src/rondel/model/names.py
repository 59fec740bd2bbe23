"""What a couple sees and hears a passage called."""

from __future__ import annotations

from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import NamesShown, Side

OPEN_NAME = "Yours to fill"

#: Sides in words; left and right are the receiver's.
SIDE_SAYS = {
    Side.LEFT: "their left",
    Side.RIGHT: "their right",
    Side.BOTH: "both sides",
    Side.CENTRE: "the middle",
}


def names_shown(routine: Routine) -> NamesShown:
    """Return which names the brief asks for; plain ones where there is no brief."""
    return routine.brief.names if routine.brief else NamesShown.PLAIN


def passage_name(passage: Passage, craft: Craft, names: NamesShown) -> str:
    """Return the name of `passage`; the id itself where the technique is not known."""
    if passage.technique is None:
        return OPEN_NAME
    if not craft.has_technique(passage.technique):
        return passage.technique
    technique = craft.technique(passage.technique)
    if names is NamesShown.ANATOMICAL:
        return technique.anatomical
    if names is NamesShown.BOTH:
        return f"{technique.plain} ({technique.anatomical})"
    return technique.plain
