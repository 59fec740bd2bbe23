"""What a loosened wish costs, told from the routine that it gave."""

from __future__ import annotations

from collections.abc import Iterator

from rondel.model.brief import Brief, Keep
from rondel.model.names import ON_SIDE_SAYS, lying_says
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.words import CONTACT_NAME, PRESSURE_SAYS, Role
from rondel.planner.case import seconds_says
from rondel.planner.constraints import avoid, limits
from rondel.planner.naming import listed, place, times
from rondel.rules.focus import RULE as FOCUS

_MOST_NAMES = 3


def costs_of(brief: Brief, changed: Brief, routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return what `routine`, planned for the `changed` brief, gives up of `brief`, in sentences.

    What was done without, and is not there, needs no second sentence.
    """
    found = tuple(
        dict.fromkeys(
            (
                *_of_keeps(brief, changed, routine, craft),
                *_of_time(brief, changed, routine),
                *_of_level(brief, changed, routine, craft),
                *_of_contacts(brief, changed, routine, craft),
                *_of_positions(brief, changed, routine),
                *_of_places(brief, changed, routine, craft),
            )
        )
    )
    return found or ("All your other wishes stand.",)


def _of_keeps(brief: Brief, changed: Brief, routine: Routine, craft: Craft) -> Iterator[str]:
    left = list(changed.keep)
    loosened = []
    for wanted in brief.keep:
        if wanted in left:
            left.remove(wanted)
        else:
            loosened.append(wanted)
    for wanted in loosened:
        name = craft.technique(wanted.technique).plain
        there = [p for p in routine.line if p.technique == wanted.technique]
        if not there:
            continue
        new = next((k for k in left if k.technique == wanted.technique), None)
        kept = next((p for p in there if p.kept), there[0]) if new else there[0]
        if new is None:
            start = as_minutes(routine.start_seconds(kept))
            yield f"{name} comes all the same, at {start}."
        else:
            yield from _of_keep(name, wanted, new, kept, routine)


def _of_keep(name: str, wanted: Keep, new: Keep, kept: Passage, routine: Routine) -> Iterator[str]:
    """Yield how what is kept now differs from what was insisted on."""
    if wanted.at_seconds is not None and new.at_seconds is None:
        start, asked = routine.start_seconds(kept), float(wanted.at_seconds)
        yield (
            f"When it was tried, {name} came at {as_minutes(start)} instead of {as_minutes(asked)}."
        )  # a longer search may place it otherwise
    if wanted.minutes is not None and new.minutes is None:
        lasts = seconds_says(round(routine.seconds_of(kept)))
        yield f"{name} lasts {lasts} instead of {seconds_says(wanted.minutes * 60)}."
    if wanted.pressure is not None and new.pressure is None:
        says = PRESSURE_SAYS[kept.pressure]
        yield f"{name} is done at pressure {kept.pressure} ({says}) instead of {wanted.pressure}."
    if wanted.side is not None and new.side is None:
        yield f"{name} is done {ON_SIDE_SAYS[kept.side]} first."


def _of_time(brief: Brief, changed: Brief, routine: Routine) -> Iterator[str]:
    if changed.refrains != brief.refrains:
        rows = routine.refrains
        ends = [0.0, *(_end(routine, row[-1]) for row in rows)]
        starts = [*(routine.start_seconds(row[0]) for row in rows), routine.clock.total_seconds]
        longest = max(start - end for end, start in zip(ends, starts, strict=True))
        yield (
            f"The refrain is met {times(len(rows))}; the longest time without it is "
            f"{seconds_says(round(longest))}."
        )
    if changed.minutes != brief.minutes:
        longer = float(changed.minutes - brief.minutes)
        yield f"It takes {longer:.3g} minute{'' if longer == 1 else 's'} longer."
    fewer = (brief.open_minutes - changed.open_minutes) * 60
    if fewer > 0:
        yield f"You have {seconds_says(fewer)} fewer of your own."
    if fewer < 0:
        yield f"{seconds_says(-fewer)} more are left free."
    if changed.bpm != brief.bpm and brief.bpm is not None:
        now = float(routine.tempo[0].bpm)
        yield f"It goes at {now:.3g} beats a minute instead of {float(brief.bpm):.3g}."


def _end(routine: Routine, passage: Passage) -> float:
    return routine.start_seconds(passage) + routine.seconds_of(passage)


def _of_level(brief: Brief, changed: Brief, routine: Routine, craft: Craft) -> Iterator[str]:
    above = dict.fromkeys(
        craft.technique(p.technique).plain
        for p in routine.line
        if p.technique is not None and craft.technique(p.technique).level > brief.level
    )
    if changed.level != brief.level:
        yield from _of_new_level(brief, routine, list(above))
    elif changed.stretch and not brief.stretch:
        if not above:
            yield "Nothing above their level comes in the routine that was found."
        for name in above:
            passage = next(p for p in routine.line if p.stretch)
            yield f"{name}, above their level, comes at {_starts(routine, passage)}."


def _starts(routine: Routine, passage: Passage) -> str:
    return as_minutes(routine.start_seconds(passage))


def _of_new_level(brief: Brief, routine: Routine, above: list[str]) -> Iterator[str]:
    if above:
        names, more = above[:_MOST_NAMES], len(above) - _MOST_NAMES
        words = [*names, f"{more} more"] if more > 0 else names
        yield f"It adds work above level {brief.level}: {listed(words)}."
    levels = limits.TRAINED_LEVEL_LIMITS if brief.trained else limits.LEVEL_LIMITS
    firmest = max(p.pressure for p in routine.line)
    if firmest > levels[brief.level]:
        yield (
            f"Hands press up to {firmest} ({PRESSURE_SAYS[firmest]}); for level {brief.level} no "
            f"more than {levels[brief.level]} is safe."
        )
    elif not above:
        yield f"Nothing in the routine that was found is above level {brief.level}."


def _of_contacts(brief: Brief, changed: Brief, routine: Routine, craft: Craft) -> Iterator[str]:
    for contact in dict.fromkeys(brief.spare):
        if contact in changed.spare:
            continue
        seconds = sum(
            routine.seconds_of(p)
            for p in routine.line
            if p.technique is not None and craft.technique(p.technique).contact is contact
        )
        name = CONTACT_NAME[contact].capitalize()
        yield (
            f"{name}: {seconds_says(round(seconds))} of work in all."
            if seconds
            else (f"{name}: not used in the routine that was found.")
        )


def _of_positions(brief: Brief, changed: Brief, routine: Routine) -> Iterator[str]:
    if changed.positions == brief.positions:
        return
    for position in dict.fromkeys(p.position for p in routine.line):
        if position not in brief.positions:
            first = next(p for p in routine.line if p.position is position)
            yield f"The receiver is {lying_says(position)} from {_starts(routine, first)} on."


def _of_places(brief: Brief, changed: Brief, routine: Routine, craft: Craft) -> Iterator[str]:
    def seconds_on(id: str) -> float:
        return sum(
            routine.seconds_of(p)
            for p in routine.line
            if p.technique is not None and avoid.touches(craft.technique(p.technique), (id,), craft)
        )

    for id in dict.fromkeys(brief.avoid_regions):
        if id not in changed.avoid_regions:
            name = place(craft.region(id)).capitalize()
            seconds = seconds_on(id)
            yield (
                f"{name}: touched for {seconds_says(round(seconds))} in all."
                if seconds
                else (f"{name}: not touched in the routine that was found.")
            )
    for id in dict.fromkeys(brief.main_regions):
        if id not in changed.main_regions:
            name, seconds = place(craft.region(id)).capitalize(), _worked(routine, (id,), craft)
            yield (
                f"{name}: {seconds_says(round(seconds))} of work."
                if seconds
                else (f"{name}: no work there.")
            )
    whole = sum(routine.seconds_of(p) for p in routine.line if p.role in (Role.WORK, Role.PEAK))
    share = _worked(routine, changed.main_regions, craft) / whole if whole else 0.0
    if changed.main_regions and share < FOCUS.number_in(craft.settings, "min_share"):
        names = listed(place(craft.region(id)) for id in dict.fromkeys(changed.main_regions))
        yield f"Only {round(100 * share)} percent of the work goes to {names}."


def _worked(routine: Routine, regions: tuple[str, ...], craft: Craft) -> float:
    """Return the seconds of work on `regions`."""
    return sum(
        routine.seconds_of(p)
        for p in routine.line
        if p.role in (Role.WORK, Role.PEAK)
        and p.technique is not None
        and craft.technique(p.technique).region in regions
    )
