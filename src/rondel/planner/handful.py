"""A part of the repertoire that is enough to find out whether anything can be planned.

Among a dozen techniques a search takes a fraction of the time, and what it finds is as lawful as
what it would find among all. That it finds nothing proves nothing.
"""

from __future__ import annotations

from dataclasses import replace

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft, Technique
from rondel.planner.constraints import small_areas
from rondel.planner.material import Material, material_of

#: Of each sort, beside what is insisted on. A quarter of an hour has room for about a dozen.
_MOST_WORK = 12
_MOST_HOMES = 4


def handful(brief: Brief, craft: Craft) -> Craft:
    """Return `craft` with what `brief` insists on, what helps to turn over, and of holds, of base
    strokes and of other work the few that lie nearest to what is asked for."""
    material = material_of(brief, craft)
    there = _nearest([material.techniques[i] for i in material.ordinary()], brief, material)
    held = [t for t in there if t.family.is_held]
    work = [t for t in there if not t.family.is_held]
    chosen = {k.technique for k in brief.keep}
    chosen |= {t.id for t in _homes(held)} | {t.id for t in _homes(work)}
    chosen |= {t.id for t in [t for t in work if t.id not in chosen][:_MOST_WORK]}
    few = tuple(t for t in craft.techniques if t.id in chosen or t.helps_turn)
    return replace(craft, techniques=few)


def _nearest(some: list[Technique], brief: Brief, material: Material) -> list[Technique]:
    """Return `some` in this order: on the main regions and where something is insisted on, then on
    their neighbours, then elsewhere; in each, long strokes first."""
    craft = material.craft
    wanted = {material.region_ids[i] for i in material.mains}
    wanted |= {craft.technique(k.technique).region for k in brief.keep}

    def distance(technique: Technique) -> tuple[int, bool]:
        region = technique.region
        is_near = any(craft.are_neighbours(region, other) for other in wanted)
        far = 0 if region in wanted else 1 if is_near else 2
        return far, not small_areas.is_wide(technique, material.prices.long_cm)

    return sorted(some, key=distance)


def _homes(some: list[Technique]) -> list[Technique]:
    """Return the first that are marked for the refrain; the first of all where none is."""
    return ([t for t in some if t.refrain] or some)[:_MOST_HOMES]
