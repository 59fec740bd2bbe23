"""A part of the repertoire and of the ways to lie, for plans that start from a routine.

A search among fewer techniques and positions is much faster, and so it goes deeper for the same
effort. What it finds weighs by the whole repertoire afterwards.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Set
from dataclasses import replace

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.settings import Settings
from rondel.model.words import Position
from rondel.planner.constraints import small_areas
from rondel.planner.material import Material, material_of
from rondel.planner.prices import ASKED, prices_of


def narrowed(
    brief: Brief, craft: Craft, there: Routine, regions: Set[str], more: int
) -> tuple[Brief, Craft]:
    """Return what to plan with little beyond what is `there`.

    That is `brief` in the positions of `there`, and of `craft` what is there, what the brief
    insists on, what helps to turn over, and of each of `regions` and of the main regions the first
    wide stroke and so many `more`.
    """
    mains = material_of(brief, craft)
    near = replace(
        brief,
        positions=_positions(brief, craft, there),
        main_regions=tuple(mains.region_ids[i] for i in mains.mains),
    )
    material = material_of(near, craft)
    chosen = {p.technique for p in there.passages} | {k.technique for k in brief.keep}
    chosen |= _more(regions | set(near.main_regions), chosen, material, more)
    few = tuple(t for t in craft.techniques if t.id in chosen or t.helps_turn)
    settings = craft.settings if brief.main_regions else _unasked(craft.settings)
    return near, replace(craft, techniques=few, settings=settings)


def _positions(brief: Brief, craft: Craft, there: Routine) -> tuple[Position, ...]:
    """Return the positions of `there`, where all that is insisted on can be done in one of them."""
    if brief.positions:
        return brief.positions
    used = {p.position for p in there.line}
    if not all(used & set(craft.technique(k.technique).position) for k in brief.keep):
        return ()
    return tuple(p for p in Position if p in used)


def _more(regions: Set[str], chosen: Set[str | None], material: Material, more: int) -> set[str]:
    """Return the first few techniques of every region that are not chosen yet, and a wide one."""
    found: set[str] = set()
    counted: Counter[str] = Counter()
    has_wide: set[str] = set()
    for number in material.ordinary():
        technique = material.techniques[number]
        region = technique.region
        is_wide = small_areas.is_wide(technique, material.prices.long_cm)
        is_new = technique.id not in chosen
        is_needed = counted[region] < more or (is_wide and region not in has_wide)
        if is_new and not (region in regions and is_needed):
            continue
        if is_new:
            counted[region] += 1
            found.add(technique.id)
        if is_wide:
            has_wide.add(region)
    return found


def _unasked(settings: Settings) -> Settings:
    """Return settings under which main regions that are spelled out weigh as if they were not:
    a smaller repertoire would give others if they were not spelled out."""
    focus = prices_of(settings, is_asked=False).focus / ASKED
    others = tuple(w for w in settings.weights if w[0] != "focus")
    return replace(settings, weights=(*others, ("focus", focus)))
