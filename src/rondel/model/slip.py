"""The way back for who has lost the thread: carry on; if it happens again, the refrain is home.

Common practice, no source: after a slip, carry on without a word; when it happens again, go to the
refrain and start from there. Page, cards, voice and follow-along all ask here.
"""

from __future__ import annotations

from typing import NamedTuple

from rondel.model.names import lying_says, names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.words import NamesShown

CARRY_ON = "Lost? Carry on."

#: So many times are told in full; more would not be read by somebody who is lost.
_MOST_TIMES = 8


class SlipWay(NamedTuple):
    """The second at which the refrain comes next (None: not again), and what to do until then."""

    at_seconds: float | None
    says: str


def slip_way(routine: Routine, passage: Passage, craft: Craft) -> SlipWay:
    """Return the way home from `passage`: the return of the refrain that begins after it.

    Within a return there is nothing to find, and after the last one the last passage is home.
    """
    row = next((r for r in routine.refrains if passage.id in {p.id for p in r}), None)
    if row is not None:
        name = refrain_name(routine, craft)
        start = routine.start_seconds(row[0])
        return SlipWay(start, f"{CARRY_ON} This is the refrain: begin again with {name}.")
    later = [r[0] for r in routine.refrains if r[0].start_bar >= passage.end_bar]
    if later:
        start = routine.start_seconds(later[0])
        name = refrain_name(routine, craft)
        turned = ""
        if later[0].position is not passage.position:
            turned = f" By then the receiver is {lying_says(later[0].position)}."
        return SlipWay(
            start,
            f"{CARRY_ON} If it happens again, go to {name} and stay with it: the refrain comes at "
            f"{as_minutes(start)}.{turned}",
        )
    last = routine.line[-1]
    if last.id == passage.id:
        return SlipWay(None, f"{CARRY_ON} This is the last passage; let your hands grow still.")
    name = _name(last, routine, craft)
    return SlipWay(
        None,
        f"{CARRY_ON} If it happens again, lay your hands down and rest: the last passage, {name}, "
        f"comes at {as_minutes(routine.start_seconds(last))}.",
    )


def slip_plan(routine: Routine, craft: Craft) -> str:
    """Return the one sentence for the whole routine; the empty text where there is no refrain."""
    if not routine.refrains:
        return ""
    return (
        f"Lost? Carry on; if it happens again, go to {refrain_name(routine, craft)} and start from "
        f"there: the refrain comes at {return_times(routine)}."
    )


def return_times(routine: Routine) -> str:
    """Return when the refrain comes, as in "2:12, 5:24 and 8:20"; there is at least one return."""
    times = [as_minutes(routine.start_seconds(row[0])) for row in routine.refrains]
    told, more = times[:_MOST_TIMES], len(times) - _MOST_TIMES
    if more > 0:
        return ", ".join(told) + (" and once more" if more == 1 else f" and {more} times more")
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"


def refrain_name(routine: Routine, craft: Craft) -> str:
    """Return the name of the first technique of the refrain, as pages show it."""
    return _name(routine.refrains[0][0], routine, craft)


def _name(passage: Passage, routine: Routine, craft: Craft) -> str:
    shown = names_shown(routine)
    return passage_name(passage, craft, NamesShown.PLAIN if shown is NamesShown.BOTH else shown)
