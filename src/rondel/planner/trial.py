"""Whether a loosened brief can be planned: searched in the fewest positions first, which is
many times quicker, and answered from routines already found where one of them serves."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from itertools import combinations

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import Position
from rondel.planner.constraints import level, limits
from rondel.planner.material import allowed_positions, is_allowed, material_of

#: Plans a brief quickly, giving up after so many settings that fail; or returns None.
Plans = Callable[[Brief, int], Routine | None]

_FAILURES_NARROW = 2  # settings tried in the fewest positions
_FAILURES_WIDE = 1  # and in more, where these did not do
_MOST_APART = 8  # things to tell apart that still make a search longer


@dataclass(kw_only=True)
class Trial:
    """What has been found for one craft, and the effort spent on it: counted, never timed, so that
    every machine finds the same. One is a search of a quarter of an hour in one position that
    keeps nothing, about."""

    craft: Craft
    plans: Plans
    spent: float = 0.0
    routines: dict[Brief, Routine] = field(default_factory=dict)
    _failed: set[tuple[Brief, bool]] = field(default_factory=set)

    def works(self, brief: Brief, *, is_deep: bool = False) -> bool:
        """True where a routine for `brief` was found, now or before. With `is_deep` more
        positions are tried than all that is insisted on needs."""
        if brief in self.routines:
            return True
        if (brief, is_deep) in self._failed or (brief, True) in self._failed:
            return False
        found = self._known(brief) or self._searched(brief, is_deep=is_deep)
        if found is None:
            self._failed.add((brief, is_deep))
            return False
        self.routines[brief] = replace(found, brief=brief)
        return True

    def _known(self, brief: Brief) -> Routine | None:
        """Return a routine found for a bolder brief that is lawful for this one."""
        for other, routine in self.routines.items():
            if _differ_in_hands_alone(other, brief) and serves(routine, brief, self.craft):
                return routine
        return None

    def _searched(self, brief: Brief, *, is_deep: bool) -> Routine | None:
        narrow = in_fewest_positions(brief, self.craft)
        if (brief, False) not in self._failed:
            found = self._plan(narrow, _FAILURES_NARROW)
            if found is not None or not is_deep:
                return found
        few = material_of(brief, self.craft).positions
        if len(few) <= len(narrow.positions):
            return None
        return self._plan(replace(brief, positions=few), _FAILURES_WIDE)

    def _plan(self, brief: Brief, failures: int) -> Routine | None:
        found = self.plans(brief, failures)
        self.spent += effort_of(brief) * (1.5 if found is None else 1.0)
        return found


def effort_of(brief: Brief) -> float:
    """Return about how long a search takes, by what has to be told apart: everything insisted on,
    and minutes left free, make it half as long again, and each further position doubles it."""
    further = len(brief.positions or tuple(Position)) - 1
    apart = min(len(brief.keep) + bool(brief.open_minutes) + 2 * further, _MOST_APART)
    doubled: float = 2.0 ** (apart / 2)
    return max(1.0, float(brief.minutes) / 15) * doubled


def in_fewest_positions(brief: Brief, craft: Craft) -> Brief:
    """Return `brief` in the fewest positions in which all can be done that is insisted on: of
    these, where most can be done on its main regions, and most in all."""
    allowed = allowed_positions(brief, craft)
    kept = [craft.technique(keep.technique).position for keep in brief.keep]
    there = [
        t
        for t in craft.techniques
        if is_allowed(t, brief, craft) and level.allows(t, brief) and not t.helps_turn
    ]

    def worth(some: tuple[Position, ...]) -> tuple[int, int]:
        done = [t for t in there if any(p in t.position for p in some)]
        return sum(t.region in brief.main_regions for t in done), len(done)

    for count in range(1, len(allowed) + 1):
        able = [
            some
            for some in combinations(allowed, count)
            if all(any(p in some for p in positions) for positions in kept)
        ]
        if able:
            return replace(brief, positions=max(able, key=worth))
    return brief


# ---- routines found before -------------------------------------------------------------------


def _differ_in_hands_alone(one: Brief, other: Brief) -> bool:
    """True where only wishes on techniques and positions differ, so that times stay lawful."""
    bare = {"level": 1, "stretch": True, "spare": (), "avoid_regions": (), "positions": ()}
    return replace(one, **bare) == replace(other, **bare)  # type: ignore[arg-type]


def serves(routine: Routine, brief: Brief, craft: Craft) -> bool:
    """True where every passage of `routine` is allowed by `brief`: technique, pressure, position,
    and level. Whatever else the rules ask is left to the search that found it."""
    allowed = allowed_positions(brief, craft)
    return all(p.position in allowed for p in routine.passages) and all(
        _is_able(p, brief, craft) for p in _with_technique(routine.passages)
    )


def _with_technique(passages: Iterable[Passage]) -> list[Passage]:
    return [p for p in passages if p.technique is not None]


def _is_able(passage: Passage, brief: Brief, craft: Craft) -> bool:
    assert passage.technique is not None
    technique = craft.technique(passage.technique)
    is_above = not level.allows(technique, brief)
    return (
        is_allowed(technique, brief, craft)
        and passage.pressure <= limits.cap(technique, brief, craft)
        and is_above == passage.stretch
        and (not is_above or level.may_stretch(technique, brief))
    )
