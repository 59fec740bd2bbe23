"""One brief as the sums see it: what it leaves to use, the grid, and the refrains it could have."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, lru_cache

from rondel.model.brief import Brief, Keep
from rondel.model.repertoire import Craft, Technique
from rondel.model.time import as_minutes
from rondel.planner.frame import Frame, frame_of
from rondel.planner.material import Material, material_of
from rondel.planner.refrains import Refrain, refrain_rows

_REMEMBERED = 64  # rows of the refrain, of briefs that differ a little


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """A sentence on what cannot be, and the wishes it is about: without them it would not hold.

    Wishes are keys of the brief ("refrains"); where a key holds a list, its entry follows
    ("spare thumb", "keep 0").
    """

    says: str
    wishes: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class Case:
    """A brief with what follows from it. Rows of the refrain are worked out when asked for."""

    brief: Brief
    craft: Craft
    material: Material
    frame: Frame

    @cached_property
    def rows(self) -> tuple[Refrain, ...]:
        if self.brief.laid is not None:  # which does not tell two briefs apart
            return refrain_rows(self.material, self.frame)
        return _rows_of(_for_home(self.brief), self.craft)

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


def _for_home(brief: Brief) -> Brief:
    """Return `brief` without what no refrain depends on, so that many briefs share their rows."""
    kept = tuple(
        Keep(technique=k.technique, at_seconds=None if k.at_seconds is None else Fraction(0))
        for k in brief.keep
    )
    return replace(brief, title="", keep=kept, open_minutes=Fraction(0))


@lru_cache(maxsize=_REMEMBERED)
def _rows_of(brief: Brief, craft: Craft) -> tuple[Refrain, ...]:
    return refrain_rows(material_of(brief, craft), frame_of(brief))


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
