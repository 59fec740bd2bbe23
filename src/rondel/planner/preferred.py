"""How much of a routine goes to the techniques that its brief prefers, in a sentence."""

from __future__ import annotations

from rondel.model.names import names_shown, technique_names
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.naming import listed


def preferred_told(routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return what became of the techniques that are preferred; nothing where none are."""
    asked = dict.fromkeys(routine.brief.prefer) if routine.brief else {}
    wished = [t for t in asked if craft.has_technique(t)]
    if not wished or not routine.bars:
        return ()

    def names(techniques: list[str]) -> str:
        shown = names_shown(routine)
        return listed([technique_names(craft.technique(t), shown)[0] for t in techniques])

    used = {p.technique for p in routine.line}
    there, gone = [t for t in wished if t in used], [t for t in wished if t not in used]
    if not there:
        return (f"Of what you prefer nothing found a place: {names(gone)}.",)
    bars = sum(p.bars for p in routine.line if p.technique in asked)
    percent = round(100 * bars / routine.bars)
    if not gone:
        return (f"Of the time, {percent} percent go to what you prefer: {names(there)}.",)
    return (
        f"Of the time, {percent} percent go to what you prefer: {names(there)}; there was no place "
        f"for {names(gone)}.",
    )
