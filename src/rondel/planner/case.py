"""One brief as the sums see it: what it leaves to use, the grid, and the refrains it could have."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft, Technique
from rondel.model.time import as_minutes
from rondel.model.words import Position
from rondel.planner.frame import Frame, frame_of
from rondel.planner.material import Material, material_of
from rondel.planner.refrains import Refrain, refrain_rows

_REMEMBERED = 256  # sets of refrains, of briefs that differ a little


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A sentence on what cannot be, and the wishes it is about: without them it would not hold.

    Wishes are keys of the brief ("refrains"); where a key holds a list, its entry follows
    ("spare thumb", "keep 0").
    """

    says: str
    wishes: frozenset[str]


@dataclass(frozen=True, slots=True)
class HomeForm:
    """What the sums need of a possible refrain."""

    positions: tuple[Position, ...]
    bars: int
    energy: float


@dataclass(frozen=True, kw_only=True)
class Case:
    """A brief with what follows from it. Possible refrains are worked out when asked for."""

    brief: Brief
    craft: Craft
    material: Material
    frame: Frame

    @cached_property
    def homes(self) -> tuple[HomeForm, ...]:
        return _homes_of(self.material, self.frame)

    @cached_property
    def work(self) -> tuple[int, ...]:
        """Return the numbers of techniques within the level that are not held."""
        techniques = self.material.techniques
        return tuple(i for i in self.material.ordinary() if not techniques[i].family.is_held)

    def clock(self, bars: int) -> str:
        """Return the time at which bar number `bars` begins."""
        return as_minutes(float(bars * self.frame.bar_seconds))

    def clock_of(self, seconds: Fraction) -> str:
        """Return `seconds` from the beginning as a time."""
        return as_minutes(float(seconds))

    def kept(self, number: int) -> Technique:
        return self.craft.technique(self.brief.keep[number].technique)


def forms_of(rows: tuple[Refrain, ...]) -> tuple[HomeForm, ...]:
    """Return the forms of refrains."""
    return tuple(HomeForm(r.positions, r.block.bars, r.block.energy) for r in rows)


#: Forms by what they hang on, each with the objects whose identities stand in the key.
_known: dict[object, tuple[object, tuple[HomeForm, ...]]] = {}


def _homes_of(material: Material, frame: Frame) -> tuple[HomeForm, ...]:
    """Return the forms of the possible refrains. They are remembered by all that they hang on, so
    that the many briefs that are looked at, each a little looser, share them."""
    techniques, regions = material.techniques, material.craft.regions
    key = (
        tuple(map(id, techniques)),
        id(regions),
        material.ordinary(),
        material.caps,
        material.positions,
        material.mains,
        material.brief.intention,
        (frame.bpm, frame.beats_per_bar, frame.drift, frame.step, frame.home, frame.scale),
    )
    if key not in _known:
        while len(_known) >= _REMEMBERED:
            del _known[next(iter(_known))]
        _known[key] = (techniques, regions), forms_of(refrain_rows(material, frame))
    return _known[key][1]


def case_of(brief: Brief, craft: Craft) -> Case:
    """Return the case of `brief`."""
    return Case(brief=brief, craft=craft, material=material_of(brief, craft), frame=frame_of(brief))


def about(*wishes: str | frozenset[str]) -> frozenset[str]:
    """Return all `wishes` in one set."""
    return frozenset().union(*((w,) if isinstance(w, str) else w for w in wishes))


def taking(brief: Brief) -> frozenset[str]:
    """Return the wishes of `brief` that take techniques away."""
    found = {f"spare {c}" for c in brief.spare} | {
        f"avoid_regions {r}" for r in brief.avoid_regions
    }
    if brief.positions:
        found.add("positions")
    if brief.level < 5:
        found.add("level")
    return frozenset(found)


def seconds_says(seconds: Fraction | int) -> str:
    """Return a length in words: "45 seconds", or "1:50" from a minute and a half on."""
    whole = round(float(seconds))
    return f"{whole} seconds" if whole < 90 else as_minutes(whole)
