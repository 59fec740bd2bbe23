"""A couple has learned a technique: it comes into their routine, and the rest is left alone."""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from rondel.model.brief import Brief, Keep
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome
from rondel.model.names import technique_called
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.planner.alternatives import IsLawful
from rondel.planner.attempts import QUICK
from rondel.planner.groups import Group, groups_of
from rondel.planner.moved import Asked, Aspect, what_moved
from rondel.planner.naming import listed
from rondel.planner.nearness import share_alike
from rondel.planner.reasons import clinician_reasons, why_not
from rondel.planner.swaps import (
    Placement,
    carried,
    lawful,
    places_for,
    replanned,
    swaps_at,
)
from rondel.planner.wishes import require_known
from rondel.rules.level import MAX_ABOVE
from rondel.rules.limits import LEVEL_LIMITS, TRAINED_LEVEL_LIMITS

#: Places for which a whole new plan is tried where no swap alone will do (our choice).
_REPLANNED = 4
#: The share of bars that stay as they are, or it is another routine (our choice).
_ALIKE = 0.5
#: What the place weighs against the score (our choice): a passage on the same region, the stretch
#: passage or the ending; any other passage.
_LIKE, _ELSEWHERE = 1.0, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Grown:
    """The routine with what was learned, or the reasons; and what changed, in sentences.

    `notes` are sentences for the passages of the techniques learned, by technique.
    """

    outcome: Outcome
    says: tuple[str, ...] = ()
    notes: Mapping[str, str] = field(default_factory=dict)


def grow(
    routine: Routine, brief: Brief, craft: Craft, learned: Sequence[str], is_lawful: IsLawful
) -> Grown:
    """Return `routine`, made for `brief`, with every technique of `learned` brought in.

    They are ids or plain names; BadInput for one that the craft does not know. The brief that the
    new routine carries insists on them, leaves less time open where they fill it, and has their
    level where that is above the couple's, by two at most. Pressure stays within what the old
    level allowed: to have learned one more technique is no reason to press deeper.
    """
    require_known(brief, craft)
    techniques = tuple(dict.fromkeys(technique_named(word, craft) for word in learned))
    reasons = clinician_reasons(brief, craft) or tuple(
        reason for t in techniques for reason in _reasons_against(t, routine, brief, craft)
    )
    if reasons:
        return Grown(outcome=Outcome(routine=None, reasons=reasons))
    level = max([brief.level, *(t.level for t in techniques)])
    now = replace(routine, brief=replace(brief, level=level))
    swaps: list[Placement] = []
    for technique in techniques:
        found = _swapped(technique, now, craft, is_lawful, deepest=_deepest(brief))
        if found is None:
            return Grown(outcome=Outcome(routine=None, reasons=(_no_place(technique),)))
        swaps.append(found)
        now = _insisting(found.routine, technique.id)
    now, caught = _caught_up(now, craft)
    assert now.brief is not None
    grown = carried(now, now.brief, craft)
    placed = (*_placed(swaps, routine, grown, craft), *caught)
    says = (*placed, *_stayed(routine, grown, swaps, craft))
    return Grown(
        outcome=Outcome(routine=grown),
        says=(*says, *_brief_says(brief, grown)),
        notes={s.technique.id: _note(s, routine, grown, craft) for s in swaps},
    )


def technique_named(word: str, craft: Craft) -> Technique:
    """Return the technique whose id or name `word` is; BadInput with the closest name."""
    called = technique_called(word, craft)
    if called is not None:
        return called
    known = {t.id: t for t in craft.techniques} | {t.plain.lower(): t for t in craft.techniques}
    near = difflib.get_close_matches(word.lower(), list(known), n=1, cutoff=0.5)
    hint = f'did you mean "{known[near[0]].id}"?' if near else "`rondel techniques` lists all"
    raise BadInput(f'"{word}" is not in the repertoire; {hint}', at="learned")


def held_to(craft: Craft, pressure: int) -> Craft:
    """Return `craft` without what lies deeper than `pressure`."""
    held = tuple(
        replace(t, pressure=(t.pressure[0], min(t.pressure[1], pressure)))
        for t in craft.techniques
        if t.pressure[0] <= pressure
    )
    return replace(craft, techniques=held)


def _deepest(brief: Brief) -> int:
    return (TRAINED_LEVEL_LIMITS if brief.trained else LEVEL_LIMITS)[brief.level]


def _reasons_against(
    technique: Technique, routine: Routine, brief: Brief, craft: Craft
) -> tuple[str, ...]:
    """Return why the technique cannot come in, in sentences; () where nothing speaks against it."""
    if technique.helps_turn:
        says = f"{technique.plain} only helps the receiver turn over; it fills no passage."
        return (says,)
    there = next(
        (p for p in routine.line if p.technique == technique.id and not p.stretch),
        None,
    )
    if there is not None:
        at = as_minutes(routine.start_seconds(there))
        return (f"{technique.plain} is in this routine already, at {at}.",)
    if technique.level > brief.level + MAX_ABOVE:
        return (
            f"{technique.plain} is of level {technique.level} and the couple of level "
            f"{brief.level}: too far for one technique alone. Where they have learned what lies "
            "between as well, raise `level` in the brief and plan anew.",
        )
    able = replace(brief, level=max(brief.level, technique.level))
    found = why_not(technique, able, craft, f"{technique.plain} cannot come in:")
    deepest = _deepest(brief)
    if not found and technique.pressure[0] > deepest:
        found = [
            f"{technique.plain} begins at pressure {technique.pressure[0]}, and hands of level "
            f"{brief.level} press no deeper than {deepest}. Where they may by now, raise `level` "
            "in the brief and plan anew."
        ]
    return tuple(found)


def _swapped(
    technique: Technique, routine: Routine, craft: Craft, is_lawful: IsLawful, *, deepest: int
) -> Placement | None:
    """Return the best way to bring the technique in, or None: a swap alone, else a new plan.

    Time left free is filled before anything is taken away.
    """
    gentle = held_to(craft, deepest)
    technique = gentle.technique(technique.id)
    there = _as_theirs(technique, routine, craft)
    if there is not None:
        return there if is_lawful(there.routine) else None
    places = places_for(technique, routine, gentle)
    ranked = sorted(places, key=lambda g: (_distance(technique, g, craft), -g.start_bar))

    def weighed(swaps: Iterable[Placement]) -> Iterator[Placement]:
        for s in swaps:
            yield replace(s, cost=s.cost + _distance(technique, s.group, craft))

    free, taken = ([g for g in ranked if g.is_open is is_free] for is_free in (True, False))
    for groups in (free, taken):
        swaps = (s for group in groups for s in swaps_at(technique, group, routine, gentle))
        found = lawful(weighed(swaps), is_lawful)
        if found is not None:
            return found
    alone = [g for g in ranked if len(g.work) == 1][:_REPLANNED]
    again = (replanned(technique, g, routine, gentle, QUICK) for g in alone)
    near = (s for s in again if s is not None and share_alike(routine, s.routine) >= _ALIKE)
    return lawful(weighed(near), is_lawful)


def _as_theirs(technique: Technique, routine: Routine, craft: Craft) -> Placement | None:
    """Return the routine in which the stretch passage is one no more, where it is `technique`."""
    groups = (g for g in groups_of(routine, craft) if technique.id in g.techniques)
    group = next(groups, None)
    if group is None:
        return None
    passages = (
        replace(p, stretch=False) if p.technique == technique.id else p for p in routine.passages
    )
    whole = replace(routine, passages=tuple(passages))
    return Placement(technique=technique, group=group, routine=whole, cost=0.0)


def _no_place(technique: Technique) -> str:
    return (
        f"No place was found for {technique.plain} that leaves most of the routine as it is. "
        f"To have it all the same, insist on it in the brief (keep, technique = "
        f'"{technique.id}") and plan anew.'
    )


def _distance(technique: Technique, group: Group, craft: Craft) -> float:
    """Return how far the technique is from what stands there; bars left open are nearest."""
    if group.is_open:
        return 0.0
    first = group.first
    ids = [id for id in group.techniques if id is not None and craft.has_technique(id)]
    there = [craft.technique(id) for id in ids]
    if first.stretch or first.role is Role.CLOSE:
        return _LIKE
    if len(there) > 1:
        return _ELSEWHERE
    if any(t.region == technique.region for t in there):
        return _LIKE - 0.2 * any(t.family is technique.family for t in there)
    near = any(craft.are_neighbours(t.region, technique.region) for t in there)
    return _ELSEWHERE - 0.5 * near


def _insisting(routine: Routine, id: str) -> Routine:
    """Return `routine` in which the technique `id` is insisted on, wherever it may stand another
    time: what is learned after it does not drive it out."""
    passages = (replace(p, kept=True) if p.technique == id else p for p in routine.passages)
    brief = routine.brief
    assert brief is not None
    if not any(keep.technique == id for keep in brief.keep):
        brief = replace(brief, keep=(*brief.keep, Keep(technique=id)))
    return replace(routine, passages=tuple(passages), brief=brief)


def _caught_up(routine: Routine, craft: Craft) -> tuple[Routine, list[str]]:
    """Return the routine in which nothing is a stretch that the couple's level now reaches, and
    what is to be told of that."""
    assert routine.brief is not None
    level = routine.brief.level

    def is_reached(passage: Passage) -> bool:
        id = passage.technique
        return passage.stretch and id is not None and craft.technique(id).level <= level

    first = next((p for p in routine.passages if is_reached(p)), None)
    if first is None or first.technique is None:
        return routine, []
    passages = (replace(p, stretch=False) if is_reached(p) else p for p in routine.passages)
    name, at = craft.technique(first.technique).plain, as_minutes(routine.start_seconds(first))
    told = [f"{name} is no longer the stretch passage: at {at} it is theirs."]
    return replace(routine, passages=tuple(passages)), told


def _note(found: Placement, old: Routine, new: Routine, craft: Craft) -> str:
    """Return why it stands there, for its first passage."""
    if found.group.is_open:
        return "Learned by now: it fills bars that were left open."
    if found.technique.id in found.group.techniques:
        return "Learned by now: it was the stretch passage before."
    names = listed(_in_whose_place(found, old, new, craft))
    return f"Learned by now: it takes the place of {names}."


def _in_whose_place(found: Placement, old: Routine, new: Routine, craft: Craft) -> list[str]:
    """Return the names of what was done in `old` in the bars of what came in: of what is done less
    now, or else of all that was. Where much was planned anew, that may be other than what it was
    exchanged for on the way."""
    bars = {bar for p in new.line if p.technique == found.technique.id for bar in _bars(p)}
    there = [p.technique for p in old.line if p.technique and bars & set(_bars(p))]
    before, after = (
        Counter(p.technique for p in r.line for _ in _bars(p) if p.role is not Role.REFRAIN)
        for r in (old, new)
    )
    less = [id for id in there if after[id] < before[id]]
    ids = less or there or [id for id in found.group.techniques if id is not None]
    return [craft.technique(id).plain for id in dict.fromkeys(ids)]


def _bars(passage: Passage) -> range:
    return range(passage.start_bar, passage.end_bar)


def _placed(swaps: Sequence[Placement], old: Routine, routine: Routine, craft: Craft) -> list[str]:
    """Tell where each learned technique stands now, and in whose place."""
    told = []
    for found in swaps:
        rows = [p for p in routine.line if p.technique == found.technique.id]
        at = as_minutes(routine.start_seconds(rows[0]))
        lasts = round(sum(routine.seconds_of(p) for p in rows))
        name = found.technique.plain
        if found.group.is_open:
            told.append(f"{name} comes in at {at} for {lasts} seconds, where time was left free.")
        elif found.technique.id in found.group.techniques:
            told.append(f"{name} is no longer the stretch passage: at {at} it is theirs.")
        else:
            gone = listed(_in_whose_place(found, old, routine, craft))
            told.append(f"{name} comes in at {at} for {lasts} seconds, in place of {gone}.")
    return told


def _stayed(
    old: Routine, new: Routine, swaps: Sequence[Placement], craft: Craft
) -> tuple[str, ...]:
    """Tell what else moved, and how much is as it was."""
    percent = round(100 * share_alike(old, new))
    asked = None
    if len(swaps) == 1:
        id, was = swaps[0].technique.id, swaps[0].group.start_bar
        start = next(g.start_bar for g in groups_of(new, craft) if id in g.techniques)
        asked = Asked(old_bar=was, new_bar=start, aspects=frozenset(Aspect))
    return (
        *what_moved(old, new, craft, asked),
        f"{percent} percent of the bars are as they were.",
    )


def _brief_says(old: Brief, routine: Routine) -> list[str]:
    """Tell what the brief says now."""
    new = routine.brief
    assert new is not None
    told = []
    if new.level != old.level:
        told.append(
            f"The brief's level is {new.level} instead of {old.level}; no passage presses deeper "
            f"than {_deepest(old)}, which is what level {old.level} allows."
            if _deepest(new) != _deepest(old)
            else f"The brief's level is {new.level} instead of {old.level}."
        )
    if new.open_minutes != old.open_minutes:
        told.append(
            f"The brief leaves {float(new.open_minutes):g} minutes free instead of "
            f"{float(old.open_minutes):g}."
        )
    return [*told, "The brief insists on what was learned."]
