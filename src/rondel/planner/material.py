"""What the search may use under one brief: techniques that are allowed, with their limits."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft, Technique
from rondel.model.words import DEEP, Intention, Position
from rondel.planner import prices, taste
from rondel.planner.constraints import (
    avoid,
    cautions,
    level,
    limits,
    range,
    small_areas,
    spare,
)

_MOST_POSITIONS = 2


@dataclass(frozen=True, kw_only=True)
class Material:
    """Techniques by number, regions by number, and which regions touch. Built once a brief."""

    brief: Brief
    craft: Craft
    techniques: tuple[Technique, ...]
    caps: tuple[int, ...]
    regions: tuple[int, ...]  # region number of each technique
    region_ids: tuple[str, ...]
    covers: tuple[int, ...]  # of each region: itself and what it covers, as bits
    reach: tuple[tuple[bool, ...], ...]  # from region to region
    stays: tuple[tuple[bool, ...], ...]  # a hand stays on the body
    positions: tuple[Position, ...]
    mains: tuple[int, ...]
    prices: prices.Prices
    turns: int  # how often the receiver should turn over
    with_wide: int  # regions for which there is a long stroke, as bits
    known: dict[object, object] = field(default_factory=dict, repr=False, compare=False)
    """Blocks already built from this material, so that no second search builds them again."""

    def is_above_level(self, number: int) -> bool:
        return self._above[number]

    @cached_property
    def _above(self) -> tuple[bool, ...]:
        return tuple(not level.allows(t, self.brief) for t in self.techniques)

    def pressures(self, number: int) -> tuple[int, ...]:
        return range.pressures(self.techniques[number], self.caps[number])

    @property
    def highest(self) -> int:
        """The highest pressure that any technique within the level may have; what is insisted on
        above the level may have to be firmer, and is then the peak itself."""
        insisted = (
            min((p for p in self.pressures(i) if keep.pressure in (None, p)), default=0)
            for keep in self.brief.keep
            for i, technique in enumerate(self.techniques)
            if technique.id == keep.technique
        )
        highest = max(
            (max(self.pressures(i), default=0) for i in self.ordinary()),
            default=0,
        )
        return max([highest, *insisted])

    def ordinary(self) -> tuple[int, ...]:
        """Return the numbers of the techniques within the level that are not for turning over."""
        return self._ordinary

    @cached_property
    def _ordinary(self) -> tuple[int, ...]:
        return tuple(
            i
            for i, t in enumerate(self.techniques)
            if not t.helps_turn and not self.is_above_level(i)
        )

    @property
    def may_stretch(self) -> bool:
        """True where the brief allows a stretch passage and there is one to be had."""
        return any(self.is_above_level(i) for i, _ in enumerate(self.techniques))


def is_allowed(technique: Technique, brief: Brief, craft: Craft) -> bool:
    """True where no rule takes the technique away, its level apart."""
    return _is_allowed(technique, brief, craft, allowed_positions(brief, craft))


def _is_allowed(
    technique: Technique, brief: Brief, craft: Craft, allowed: tuple[Position, ...]
) -> bool:
    return (
        spare.allows(technique, brief)
        and avoid.allows(technique, brief, craft)
        and cautions.allows(technique, brief, craft)
        and limits.allows(technique, craft)
        and bool(range.pressures(technique, limits.cap(technique, brief, craft)))
        and bool(range.positions(technique, allowed))
    )


def allowed_positions(brief: Brief, craft: Craft) -> tuple[Position, ...]:
    """Return the positions that brief and cautions leave, in the order of the brief."""
    asked = dict.fromkeys(brief.positions) or dict.fromkeys(Position)
    return tuple(p for p in asked if cautions.allows_position(p, brief, craft))


def choose_mains(brief: Brief, craft: Craft, techniques: tuple[Technique, ...]) -> tuple[str, ...]:
    """Return the main regions: those asked for, or the two or three best served neighbours.

    A region is well served by many techniques, by those preferred before all, by depth where the
    intention wishes for it, and by closeness or calm where these count. Regions that cover others
    are left to the refrain.
    """
    if brief.main_regions:
        return tuple(dict.fromkeys(brief.main_regions))
    worth: dict[str, float] = {}
    for t in techniques:
        if craft.region(t.region).covers or t.level > brief.level or t.family.is_held:
            continue
        value = 1.0 + (t.id in brief.prefer)
        if brief.intention is Intention.CLOSENESS:
            value += float(t.closeness)
        elif brief.intention is Intention.SLEEP:
            value -= max(0.0, float(t.energy))
        elif min(t.pressure[1], limits.cap(t, brief, craft)) >= DEEP:
            value += 0.5
        worth[t.region] = worth.get(t.region, 0.0) + value
    chosen: list[str] = []
    for _ in (2, 3) if brief.minutes <= 20 else (1, 2, 3):
        rated = [
            (value * (1.5 if any(craft.are_neighbours(c, id) for c in chosen) else 1.0), id)
            for id, value in worth.items()
            if id not in chosen
        ]
        if rated:
            best = max(value for value, _ in rated)
            chosen.append(next(id for value, id in rated if value == best))
    return tuple(chosen)


def _are_apart(mains: tuple[str, ...], techniques: tuple[Technique, ...], brief: Brief) -> bool:
    """True where no position lets the hands work on every one of `mains`."""
    there = [
        {
            p
            for t in techniques
            if t.region == main and t.level <= brief.level and not t.family.is_held
            for p in t.position
        }
        for main in mains
    ]
    return bool(there) and not set.intersection(*there)


def _few_positions(
    brief: Brief, craft: Craft, mains: tuple[str, ...], techniques: tuple[Technique, ...]
) -> tuple[Position, ...]:
    """Return the positions to plan in: those asked for, else the two in which most can be done on
    the main regions, and what the teacher's own passages need (our choice: with all four, plans
    take much longer and are hardly ever better)."""
    allowed = allowed_positions(brief, craft)
    if brief.positions or len(allowed) <= _MOST_POSITIONS:
        return allowed

    def served(position: Position) -> tuple[int, int]:
        there = [
            t.region
            for t in techniques
            if t.region in mains and position in t.position and t.level <= brief.level
        ]
        sits = taste.position_cost(brief, position) > 0
        return (len(set(there)) - 10 * sits, len(there))

    best = sorted(allowed, key=lambda p: served(p), reverse=True)[:_MOST_POSITIONS]
    for wanted in brief.keep:
        able = craft.technique(wanted.technique).position
        if not any(p in able for p in best):
            best += [p for p in allowed if p in able][:1]
    return tuple(p for p in allowed if p in best)


def material_of(brief: Brief, craft: Craft, *, every_position: bool = False) -> Material:
    """Return all that the rules on single passages leave of the craft.

    Where the brief names no positions, a few are chosen, unless `every_position` is to be tried.
    """
    allowed = allowed_positions(brief, craft)
    found = tuple(
        t
        for t in craft.techniques
        if _is_allowed(t, brief, craft, allowed)
        and (level.allows(t, brief) or level.may_stretch(t, brief))
    )
    at = prices.prices_of(craft.settings, is_asked=bool(brief.main_regions))
    mains = choose_mains(brief, craft, found)
    ids = tuple(r.id for r in craft.regions)
    number = {id: i for i, id in enumerate(ids)}
    covers = tuple(
        sum(1 << number[x] for x in {r.id, *r.covers} if x in number) for r in craft.regions
    )
    reach = tuple(tuple(craft.are_neighbours(a, b) for b in ids) for a in ids)
    stays = tuple(
        tuple(
            reach[a][b] or bool(covers[a] >> b & 1) or bool(covers[b] >> a & 1)
            for b, _ in enumerate(ids)
        )
        for a, _ in enumerate(ids)
    )
    return Material(
        brief=brief,
        craft=craft,
        techniques=found,
        caps=tuple(limits.cap(t, brief, craft) for t in found),
        regions=tuple(number[t.region] for t in found),
        region_ids=ids,
        covers=covers,
        reach=reach,
        stays=stays,
        positions=allowed_positions(brief, craft)
        if every_position
        else _few_positions(brief, craft, mains, found),
        mains=tuple(number[id] for id in mains),
        prices=at,
        turns=taste.wished_turns(brief, are_apart=_are_apart(mains, found, brief)),
        with_wide=sum(
            1 << number[id] for id in sorted(small_areas.regions_with_wide(craft, at.long_cm))
        ),
    )
