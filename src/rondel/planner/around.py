"""Planning near a routine with little beyond what it is made of, which is much faster.

What should stay as it is needs no other techniques. So a plan near a routine is looked for with
those that are there, and a few more of the regions where something has to give way. The rules ask
for nothing that the rest of the repertoire could change, save what a checker tells afterwards.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Position
from rondel.planner.attempts import QUICK
from rondel.planner.material import Material, material_of
from rondel.planner.plan import plan
from rondel.planner.requests import Request
from rondel.planner.swaps import carried

#: Searches end when so many have failed. A peak may need to be at another pressure than before, and
#: every pressure is a search; they are short here.
AROUND = replace(QUICK, failures=8)

_MORE = 4  # techniques of a region besides those that are there (our choice)
_BARS = 30  # so far around what is asked for, regions are given more techniques (our choice)


def planned_around(request: Request, old: Routine, craft: Craft) -> Routine | None:
    """Return a plan for `request` made of little beyond what is in `old`, or None.

    It need not be lawful by the whole repertoire, nor do what was asked: both are to be seen.
    """
    material = material_of(request.brief, craft)
    brief = replace(
        request.brief,
        positions=_positions(request.brief, old, craft),
        main_regions=tuple(material.region_ids[i] for i in material.mains),
    )
    few = _few(request, old, material)
    found = plan(
        brief, few, near=request.target, effort=AROUND, home=request.home, loosen=False
    ).routine
    return None if found is None else carried(found, request.brief, craft)


def _positions(brief: Brief, old: Routine, craft: Craft) -> tuple[Position, ...]:
    """Return the positions of `old`, where all that is insisted on can be done in one of them."""
    if brief.positions:
        return brief.positions
    there = {p.position for p in old.line}
    kept = (craft.technique(keep.technique) for keep in brief.keep)
    if not all(there & set(t.position) for t in kept):
        return ()
    return tuple(p for p in Position if p in there)


def _few(request: Request, old: Routine, material: Material) -> Craft:
    """Return the repertoire with what is there and asked for, and a few more techniques."""
    craft = material.craft
    there = {p.technique for p in (*old.passages, *request.target.passages)}
    there |= {k.technique for k in request.brief.keep}
    regions = {t.region for t in craft.techniques if t.id in {request.technique, *_about(request)}}
    regions |= {material.region_ids[i] for i in material.mains}
    there |= _more(regions, there, material)
    few = tuple(t for t in craft.techniques if t.id in there or t.helps_turn)
    return replace(craft, techniques=few)


def _about(request: Request) -> Iterable[str]:
    """Yield what is done around the old and the new place of what is asked for."""
    first, last = sorted((request.old_bar, request.new_bar))
    for passage in request.target.line:
        is_near = passage.start_bar < last + _BARS and passage.end_bar > first - _BARS
        if is_near and passage.technique:
            yield passage.technique


def _more(regions: set[str], there: set[str | None], material: Material) -> set[str]:
    """Return the first few techniques of every region that are not there yet."""
    more: set[str] = set()
    counted: Counter[str] = Counter()
    for number in material.ordinary():
        technique = material.techniques[number]
        region = technique.region
        if region in regions and technique.id not in there and counted[region] < _MORE:
            counted[region] += 1
            more.add(technique.id)
    return more
