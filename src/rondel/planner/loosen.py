"""One wish loosened at a time, planned again, and offered only where that worked.

Cautions are never among them: they keep people safe.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction

from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_to_dict, number_to_json
from rondel.model.finding import Loosening
from rondel.model.repertoire import Craft
from rondel.planner.frame import usual_refrains
from rondel.planner.naming import place

_MOST_OFFERS = 6

#: A brief with one wish loosened, and how to say it.
Change = tuple[str, Brief, object, str]


def loosenings(brief: Brief, craft: Craft, works: Callable[[Brief], bool]) -> tuple[Loosening, ...]:
    """Return the single wishes that, loosened alone, give a routine; `works` plans to find out.

    The first value that works for a wish is offered, the mildest first.
    """
    offered: dict[str, Loosening] = {}
    for wish, changed, to, says in _changes(brief, craft):
        if wish in offered or len(offered) >= _MOST_OFFERS:
            continue
        if works(changed):
            offered[wish] = Loosening(wish=wish, to=to, says=says)
    return tuple(offered.values())


def _changes(brief: Brief, craft: Craft) -> Iterator[Change]:
    """Yield every loosening worth a try, in the order in which they are offered."""
    yield from _of_keeps(brief, craft)
    yield from _of_refrains(brief)
    yield from _of_open_minutes(brief)
    yield from _of_hands(brief)
    yield from _of_minutes(brief)
    yield from _of_places(brief, craft)


def _of_keeps(brief: Brief, craft: Craft) -> Iterator[Change]:
    rows = brief_to_dict(brief).get("keep", [])
    assert isinstance(rows, list)
    for i, wanted in enumerate(brief.keep):
        name = craft.technique(wanted.technique).plain
        rest = brief.keep[:i] + brief.keep[i + 1 :]
        if wanted.at_seconds is not None:
            loose = replace(wanted, at_seconds=None)
            changed = (*brief.keep[:i], loose, *brief.keep[i + 1 :])
            row = {k: v for k, v in rows[i].items() if k != "at"}
            to = [*rows[:i], row, *rows[i + 1 :]]
            yield (
                "keep",
                replace(brief, keep=changed),
                to,
                f"Keep {name}, but leave its time open.",
            )
        left = rows[:i] + rows[i + 1 :]
        yield "keep", replace(brief, keep=rest), left or None, f"Do without {name}."


def _times(number: int) -> str:
    """Return how often in words."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def _of_refrains(brief: Brief) -> Iterator[Change]:
    if brief.refrains is None:
        return
    usual = usual_refrains(brief.minutes)
    for number in dict.fromkeys((brief.refrains - 1, usual, usual - 1, 2, 1, brief.refrains + 1)):
        if number >= 1 and number != brief.refrains:
            says = f"Let the refrain return {_times(number)} instead of {_times(brief.refrains)}."
            yield "refrains", replace(brief, refrains=number), number, says


def _of_open_minutes(brief: Brief) -> Iterator[Change]:
    if not brief.open_minutes:
        return
    for minutes in dict.fromkeys((round(brief.open_minutes / 2), 1, 0)):
        if minutes < brief.open_minutes:
            says = f"Leave {minutes} minutes free instead of {float(brief.open_minutes):g}."
            if not minutes:
                says = "Leave no minutes free."
            changed = replace(brief, open_minutes=Fraction(minutes))
            yield "open_minutes", changed, minutes, says


def _of_hands(brief: Brief) -> Iterator[Change]:
    if not brief.stretch:
        says = "Allow one passage above the couple's level, to be skipped without regret."
        yield "stretch", replace(brief, stretch=True), True, says
    if brief.bpm is not None:
        says = "Leave the tempo open."
        yield "bpm", replace(brief, bpm=None), None, says
    if brief.spare:
        for i, contact in enumerate(brief.spare if len(brief.spare) > 1 else ()):
            rest = brief.spare[:i] + brief.spare[i + 1 :]
            says = f"Use the {contact.replace('_', ' ')} after all, if the hands allow it."
            yield "spare", replace(brief, spare=rest), [str(c) for c in rest], says
        yield "spare", replace(brief, spare=()), None, "Spare no part of the hand, if it allows."
    if brief.level < 5:
        for level in (brief.level + 1, brief.level + 2):
            if level <= 5:
                says = f"Plan for a couple of level {level}, if they can do that."
                yield "level", replace(brief, level=level), level, says


def _of_minutes(brief: Brief) -> Iterator[Change]:
    for factor in (Fraction(5, 4), Fraction(3, 2), Fraction(2), Fraction(3)):
        minutes = Fraction(round(brief.minutes * factor))
        if brief.minutes < minutes <= 120:
            says = f"Give it {minutes} minutes instead of {float(brief.minutes):g}."
            yield "minutes", replace(brief, minutes=minutes), number_to_json(minutes), says


def _of_places(brief: Brief, craft: Craft) -> Iterator[Change]:
    if brief.positions:
        says = "Let the receiver lie or sit as it suits best."
        yield "positions", replace(brief, positions=()), None, says
    if brief.main_regions:
        for i, id in enumerate(brief.main_regions if len(brief.main_regions) > 1 else ()):
            rest = brief.main_regions[:i] + brief.main_regions[i + 1 :]
            says = f"Do not ask for most work on {place(craft.region(id))}."
            yield "main_regions", replace(brief, main_regions=rest), list(rest), says
        says = "Leave it open where most work goes."
        yield "main_regions", replace(brief, main_regions=()), None, says
    for i, id in enumerate(brief.avoid_regions):
        rest = brief.avoid_regions[:i] + brief.avoid_regions[i + 1 :]
        says = (
            f"Do not avoid {place(craft.region(id))}, if it is a matter of taste; "
            "where there is an injury or pain, leave it as it is."
        )
        yield "avoid_regions", replace(brief, avoid_regions=rest), list(rest) or None, says
