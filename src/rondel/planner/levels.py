"""One brief for several levels: a family of routines in which a couple recognises its own.

The level asked for is planned freely, with a refrain that the lowest level can do. What is too
hard is then replaced level by level downwards, as near as can be to the routine above. Upwards,
techniques that are new at a level come into the routine below, and the rest is left alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Routine
from rondel.model.words import Language, Role
from rondel.planner.alternatives import IsLawful
from rondel.planner.attempts import Effort
from rondel.planner.constraints import limits
from rondel.planner.frame import frame_of
from rondel.planner.groups import Group, groups_of
from rondel.planner.likeness import Step, steps_of, used_in
from rondel.planner.material import is_allowed, material_of
from rondel.planner.naming import listed
from rondel.planner.nearness import home_in
from rondel.planner.plan import plan
from rondel.planner.refrains import refrain_rows
from rondel.planner.score import score
from rondel.planner.swaps import (
    Placement,
    carried,
    lawful,
    places_for,
    swaps_at,
)

#: One technique in so many minutes is new at a level, three at most (our choice).
_MINUTES_A_NEW_ONE, _MOST_NEW = 8, 3
#: How much better it is to meet the new technique on the region and of the family of the simpler
#: one that it replaces (our choice, in the units of the score).
_OTHER_REGION, _OTHER_FAMILY = 3.0, 1.0
#: For every level of what is replaced: what was hard to learn should stay (our choice).
_HARD_WON = 1.0
#: A second and a third new technique come only where the score rises by no more than this.
_DEAREST = 2.0
#: What a level is called in a title, which is in the language of the routine.
LEVEL_WORD = {Language.ENGLISH: "level", Language.GERMAN: "Stufe"}
#: What the title of a routine ends with that was planned for a level.
_LEVEL = re.compile(rf",\s(?:{'|'.join(LEVEL_WORD.values())})\s[1-5]$")
#: How hard to look for a simpler routine near another.
KIN = Effort(homes=1, failures=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """The routine of one level, or the reasons why there is none; and what to know about it.

    `fresh` are sentences for the passages of techniques that are new at this level.
    """

    level: int
    outcome: Outcome
    says: tuple[str, ...] = ()
    fresh: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """The members in order of levels, and the steps between those that have a routine."""

    members: tuple[Member, ...]
    steps: tuple[Step, ...]


def family(
    brief: Brief,
    craft: Craft,
    levels: Sequence[int],
    is_lawful: IsLawful,
    done: Callable[[], None] = lambda: None,
) -> Family:
    """Return a routine for each of `levels` (1 to 5), all from `brief`.

    `done` is called as each is planned. BadInput where the brief names what the craft does not
    know.
    """
    wanted = sorted(set(levels))
    asked = min(wanted, key=lambda level: (abs(level - brief.level), level))
    first = _first(_for_level(brief, asked), craft, _for_level(brief, wanted[0]))
    found = {asked: Member(level=asked, outcome=first)}
    done()
    if first.routine is not None:
        for level in reversed([x for x in wanted if x < asked]):
            upper = _nearest(found, level, upwards=True)
            found[level] = _simpler(_for_level(brief, level), craft, upper, is_lawful)
            done()
        for level in wanted[1:]:
            lower, is_new = _nearest(found, level, upwards=False), level not in found
            if lower is not None and _is_to_grow(found.get(level), lower, craft):
                found[level] = _richer(_for_level(brief, level), craft, lower, is_lawful)
            if is_new:
                done()
    members = tuple(found[level] for level in sorted(found))
    there = [m.outcome.routine for m in members if m.outcome.routine is not None]
    return Family(members=members, steps=tuple(steps_of(there)))


def _for_level(brief: Brief, level: int) -> Brief:
    title = _LEVEL.sub("", brief.title)  # a routine of a family may be planned for more levels
    word = LEVEL_WORD[brief.language or Language.ENGLISH]
    return replace(brief, level=level, title=f"{title}, {word} {level}")


def _first(brief: Brief, craft: Craft, lowest: Brief) -> Outcome:
    """Return the plan of the level asked for, with a refrain that the lowest level can do."""
    outcome = plan(brief, craft)
    if outcome.routine is None:
        return outcome
    material = material_of(lowest, craft)
    simple = {material.techniques[i].id for i in material.ordinary()}
    if {id for id, _, _ in home_in(outcome.routine)} <= simple:
        return outcome
    rows = refrain_rows(material, frame_of(lowest))
    homely = {material.techniques[n].id for row in rows for n in row.block.numbers}
    if not homely:
        return outcome
    narrowed = plan(brief, _with_home_of(craft, homely), loosen=False)
    return narrowed if narrowed.routine is not None else outcome


def _with_home_of(craft: Craft, homely: set[str]) -> Craft:
    """Return `craft` in which only these techniques are marked as fit for a refrain."""
    marked = (replace(t, refrain=t.id in homely) for t in craft.techniques)
    return replace(craft, techniques=tuple(marked))


def _nearest(found: dict[int, Member], level: int, *, upwards: bool) -> Routine | None:
    """Return the routine of the nearest level above (or below) that has one."""
    there = [x for x, m in found.items() if m.outcome.routine and (x > level) is upwards]
    there = [x for x in there if x != level]
    if not there:
        return None
    return found[min(there) if upwards else max(there)].outcome.routine


# --- downwards -----------------------------------------------------------------------------------


def _simpler(brief: Brief, craft: Craft, upper: Routine | None, is_lawful: IsLawful) -> Member:
    """Return the routine of a lower level, as near as can be to the one above.

    That is the one above itself, or with what is too hard swapped, or a new plan near to it.
    """
    assert upper is not None  # the level asked for is there
    eased = _eased(brief, craft, upper)
    if eased is not None and is_lawful(eased):
        return Member(level=brief.level, outcome=Outcome(routine=carried(eased, brief, craft)))
    outcome = _planned_kin(brief, craft, upper)
    if outcome.routine is not None and home_in(outcome.routine) != home_in(upper):
        homely = {id for id, _, _ in home_in(upper) if id is not None}
        again = _planned_kin(brief, _with_home_of(craft, homely), upper)
        if again.routine is not None and home_in(again.routine) == home_in(upper):
            outcome = again
    if outcome.routine is not None:
        outcome = Outcome(routine=carried(outcome.routine, brief, craft))
    return Member(level=brief.level, outcome=outcome)


def _planned_kin(brief: Brief, craft: Craft, upper: Routine) -> Outcome:
    return plan(brief, craft, near=upper, effort=KIN, loosen=False, is_kin=True)


def _eased(brief: Brief, craft: Craft, upper: Routine) -> Routine | None:
    """Return `upper` with every group that is too hard replaced by itself, one after the other.

    None where something has no replacement; whether the whole is lawful is to be seen.
    """
    now = carried(_unstretched(upper, brief, craft), brief, craft)
    easy = [t for t in craft.techniques if t.level <= brief.level and not t.helps_turn]
    easy = [t for t in easy if is_allowed(t, brief, craft)]
    for group in groups_of(now, craft):
        if not _is_too_hard(group, brief, craft):
            continue
        fitting = [
            t for t in easy if t.id not in used_in(now) and group in places_for(t, now, craft)
        ]
        swaps = (
            replace(s, cost=s.cost + _unlike(t, group, craft))
            for t in fitting
            for s in swaps_at(t, group, now, craft)
        )
        found = min(swaps, key=lambda s: s.cost, default=None)
        if found is None:
            return None
        now = found.routine
    return now


def _is_too_hard(group: Group, brief: Brief, craft: Craft) -> bool:
    """True where a technique lies above the level, or presses more than it allows."""

    def is_so(id: str, pressure: int) -> bool:
        technique = craft.technique(id)
        return technique.level > brief.level or pressure > limits.cap(technique, brief, craft)

    return any(is_so(p.technique, p.pressure) for p in group.passages if p.technique)


# --- upwards -------------------------------------------------------------------------------------


def _is_to_grow(member: Member | None, lower: Routine, craft: Craft) -> bool:
    """True where a level has no routine of its own yet, or nothing that the one below has not."""
    if member is None:
        return True
    routine = member.outcome.routine
    if routine is None:
        return False
    assert lower.brief is not None
    able = lower.brief.level
    return all(craft.technique(id).level <= able for id in used_in(routine) - used_in(lower))


def _richer(brief: Brief, craft: Craft, lower: Routine, is_lawful: IsLawful) -> Member:
    """Return the routine of a higher level: the one below, with techniques that are new here."""
    assert lower.brief is not None
    now = carried(_unstretched(lower, brief, craft), brief, craft)
    swaps: list[Placement] = []
    wished = max(1, min(_MOST_NEW, round(brief.minutes / _MINUTES_A_NEW_ONE)))
    taken: set[int] = set()
    for _ in range(wished):
        fresh = _fresh(brief, craft, lower, now)
        found = lawful(_weighed(fresh, now, craft, taken), is_lawful)
        if found is None or (swaps and _rise(found, now, craft) > _DEAREST):
            break
        swaps.append(found)
        now, taken = found.routine, taken | {found.group.start_bar}
    says = () if swaps else (f"Nothing of level {brief.level} fits: it is the routine below.",)
    return Member(
        level=brief.level,
        outcome=Outcome(routine=carried(now, brief, craft)),
        says=says,
        fresh={s.technique.id: _fresh_says(s, brief.level, craft) for s in swaps},
    )


def _unstretched(routine: Routine, brief: Brief, craft: Craft) -> Routine:
    """Return `routine` in which what the level can do is no longer a stretch passage."""

    def is_hard(id: str | None) -> bool:
        return id is not None and craft.technique(id).level > brief.level

    passages = (replace(p, stretch=is_hard(p.technique)) for p in routine.passages)
    return replace(routine, passages=tuple(passages))


def _fresh(brief: Brief, craft: Craft, lower: Routine, now: Routine) -> list[Technique]:
    """Return the techniques that this level can do and the one below cannot."""
    assert lower.brief is not None
    able = lower.brief.level
    return [
        t
        for t in craft.techniques
        if able < t.level <= brief.level
        and not t.helps_turn
        and t.id not in used_in(now)
        and is_allowed(t, brief, craft)
    ]


def _weighed(
    fresh: Sequence[Technique], now: Routine, craft: Craft, taken: set[int]
) -> Iterator[Placement]:
    """Give every swap of a fresh technique for an old one, dearer where they are unlike."""
    for technique in fresh:
        for group in places_for(technique, now, craft):
            if group.start_bar in taken or group.is_open or group.first.role is Role.CLOSE:
                continue
            if len(group.work) > 1 and not group.is_deep:
                continue  # two neighbours: one for one is easier to recognise
            unlike = _unlike(technique, group, craft)
            for found in swaps_at(technique, group, now, craft):
                yield replace(found, cost=found.cost + unlike)


def _rise(found: Placement, now: Routine, craft: Craft) -> float:
    """Return by how much the score rises with the swap."""
    return score(found.routine, craft).total - score(now, craft).total


def _unlike(technique: Technique, group: Group, craft: Craft) -> float:
    there = [craft.technique(id) for id in group.techniques if id is not None]
    region = any(t.region == technique.region for t in there)
    family = any(t.family is technique.family for t in there)
    hard = max((t.level - 1 for t in there), default=0)
    unlike = (0.0 if region else _OTHER_REGION) + (0.0 if family else _OTHER_FAMILY)
    return unlike + _HARD_WON * hard


def _fresh_says(found: Placement, level: int, craft: Craft) -> str:
    ids = [id for id in found.group.techniques if id is not None]
    names = listed(craft.technique(id).plain for id in ids)
    return f"New at level {level}, where {names} stood before."
