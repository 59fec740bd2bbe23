"""The passages of a routine as names on beats, for whoever opens its notes."""

from __future__ import annotations

from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.music.score import Marker


def passage_markers(routine: Routine, craft: Craft) -> tuple[Marker, ...]:
    """Return a marker where each passage of the line begins: its role and its plain name."""
    found = []
    for passage in routine.line:
        known = passage.technique is not None and craft.has_technique(passage.technique)
        name = craft.technique(passage.technique).plain if known and passage.technique else "open"
        text = f"{passage.role}: {name}"
        found.append(Marker(beat=routine.start_beat(passage), text=text))
    return tuple(found)
