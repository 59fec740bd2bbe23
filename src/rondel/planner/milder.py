"""What could be asked for instead of an edit that cannot be: less of it, or the same with one wish
of the brief loosened.

Nothing is tried here; `app/change_plan` offers only what it found to work.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from rondel.model.names import technique_names
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.time import as_minutes
from rondel.planner.constraints import strokes
from rondel.planner.edit_limits import bars_allowed
from rondel.planner.edits import Edit, Lengthen, Move, Press, Shorten, Swap
from rondel.planner.requests import Picked, bars_for, without_keep
from rondel.planner.steps import wishes_of

#: Loosened, these would give another routine and no edit of this one.
_WHOLE = ("minutes", "bpm", "level", "positions")

_SWAPS = 2  # other techniques that are offered for one that does not fit


@dataclass(frozen=True, slots=True)
class Milder:
    """An edit of `routine`, and the sentence that offers it; `loosens` tells of the brief what is
    then otherwise."""

    edit: Edit
    routine: Routine
    says: str
    loosens: str = ""


def milder_edits(picked: Picked, edit: Edit) -> Iterator[Milder]:
    """Yield less of what was asked for, the most first; nothing where there is no less."""
    if picked.passage.technique is None:
        return  # of bars left open there is nothing to do less of
    for less, says in _less(picked, edit):
        yield Milder(less, picked.routine, says)


def _less(picked: Picked, edit: Edit) -> Iterator[tuple[Edit, str]]:
    match edit:
        case Lengthen() | Shorten():
            yield from _lengths(picked, edit)
        case Move():
            yield from _nearer(picked, edit)
        case Press():
            now = picked.passage.pressure
            step = 1 if edit.pressure > now else -1
            for pressure in range(edit.pressure - step, now, -step):
                says = f"{picked.name} can be done at pressure {pressure}."
                yield replace(edit, pressure=pressure), says
        case Swap():
            yield from _others(picked, edit)


def _lengths(picked: Picked, edit: Lengthen | Shorten) -> Iterator[tuple[Edit, str]]:
    """Yield every smaller change of length that whole strokes fill, the most first."""
    frame, now = picked.frame, picked.passage.bars
    is_longer = isinstance(edit, Lengthen)
    low, high = bars_allowed(frame, picked.group.first.role)
    if picked.group.is_refrain:
        low, high = 1, frame.home[1]  # what stands beside it in the row makes up for it
    word, room = ("longer", high - now) if is_longer else ("shorter", now - low)
    for fewer in range(min(bars_for(edit, frame, now) - 1, room), 0, -1):
        bars = now + fewer if is_longer else now - fewer
        if strokes.choices(picked.technique, frame, bars):
            seconds = fewer * frame.bar_seconds
            says = f"{picked.name} can be {word} by {float(seconds):.0f} seconds."
            yield replace(edit, seconds=seconds), says


def _nearer(picked: Picked, edit: Move) -> Iterator[tuple[Edit, str]]:
    """Yield starts beside the one asked for, and on the way to it."""
    now, asked = picked.seconds_at(picked.group.start_bar), Fraction(edit.to_seconds)
    phrase = picked.frame.step * picked.frame.bar_seconds
    whole = picked.frame.total_seconds
    middle = picked.seconds_at(picked.frame.nearest_bar((now + asked) / 2))
    for at in dict.fromkeys((asked - phrase, asked + phrase, asked - 2 * phrase, middle)):
        if 0 < at < whole and abs(at - now) > picked.frame.bar_seconds:
            says = f"{picked.name} can start at about {as_minutes(float(at))}."
            yield replace(edit, to_seconds=at), says


def _others(picked: Picked, edit: Swap) -> Iterator[tuple[Edit, str]]:
    """Yield techniques on the region of the one asked for, those of its family first."""
    craft = picked.craft
    if not craft.has_technique(edit.technique):
        return
    wanted = craft.technique(edit.technique)
    able = [
        t
        for t in craft.techniques
        if t.region == wanted.region
        and t.id not in (wanted.id, picked.passage.technique)
        and t.level <= picked.brief.level
        and picked.passage.position in t.position
        and not t.helps_turn
        and t.contact not in picked.brief.spare
    ]
    able.sort(key=lambda t: (t.family is not wanted.family, t.lateral is not wanted.lateral))
    for technique in able[:_SWAPS]:
        says = f"{technique_names(technique, picked.brief.names)[0]} can stand there."
        yield replace(edit, technique=technique.id), says


def with_less_asked(picked: Picked, edit: Edit, craft: Craft) -> Iterator[Milder]:
    """Yield the edit itself with one wish of the brief loosened, each by its mildest step; never
    what the edit speaks of.

    What is insisted on comes first, the nearest of it before all: it is the likeliest to be in the
    way. It is not taken out of the routine, only free to change again.
    """
    brief, frame = picked.brief, picked.frame
    here = float(picked.seconds_at(picked.group.start_bar))

    def far(place: int) -> float:
        at = brief.keep[place].at_seconds
        return float(frame.total_seconds) if at is None else abs(float(at) - here)

    for place in sorted(range(len(brief.keep)), key=far):
        if place != picked.keep:
            name = technique_names(craft.technique(brief.keep[place].technique), brief.names)[0]
            says = f"It can be done as asked if {name} is free again, which you insisted on."
            yield Milder(edit, without_keep(picked, place), says, f"{name} is free again.")
    for wish in wishes_of(brief, craft):
        if wish.name not in _WHOLE and not wish.name.startswith("keep "):
            step = wish.steps[0]
            says = f"It can be done as asked with this: {step.says}"
            loosened = replace(picked.routine, brief=step.change(brief))
            yield Milder(edit, loosened, says, f"As it was needed: {step.says}")
