"""Clearly different plans for a brief, each nearly as good as the first.

They are looked for among the techniques of the first plan and a few more, in its positions and with
its refrain. What the search stands on is set up once. A bar that is shared costs a little, so that
the search turns away from what is known early, and more than half of the bars are never shared.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Role
from rondel.planner.apart import SearchApart, Shared
from rondel.planner.attempts import Attempts, Effort
from rondel.planner.contest import Contest, Setting
from rondel.planner.finish import routine_of
from rondel.planner.material import material_of
from rondel.planner.narrow import narrowed
from rondel.planner.nearness import Away, home_in, share_alike
from rondel.planner.plan import finished, proof_of
from rondel.planner.score import score
from rondel.planner.search import Searched
from rondel.planner.table import NEVER
from rondel.planner.wishes import require_known

#: Of a clearly different plan, so many bars at most are as in another (our choice).
MOST_SHARED = 0.5

#: What a shared bar costs, and the least that a bar costs which the main regions lack (of the most
#: that it can), tried in this order until a plan is near enough in quality. All choices of the
#: planner together cost about 10 to 20 in a quarter of an hour, or 0.1 a bar (measured). Where few
#: techniques serve the main regions, others that leave them out come first unless that is dear.
TRIES = ((0.004, 0.0), (0.004, 0.35), (0.006, 0.0))

#: A plan is near enough in quality that costs up to so much of what the first one costs.
NEAR_ENOUGH = 1.12

#: Different plans are looked for among the techniques of the first, and so many more of a region.
MORE = 4

#: Widths of the first search, which finds out what can be had, and of the others.
_FIRST_WIDTH, _WIDTH = 6, 24

_ROUNDS = 3  # of ascent, which sharpen what guides the search
_FAILURES = 6  # settings that may fail

#: How hard to look among everything, where the few techniques give no other plan.
_EVERYTHING = Effort(homes=1, rounds=3, failures=4)

#: What a shared bar costs there; many searches are too slow.
_DEAR = (0.012, 0.3)


def others(
    brief: Brief,
    craft: Craft,
    routine: Routine,
    count: int,
    found: Callable[[], None] = lambda: None,
) -> tuple[Routine, ...]:
    """Return up to `count` clearly different plans, the best first: at most half of the bars are
    shared with `routine` or with each other.

    How much further from the wishes than `routine` each one is, its proof tells; none is bounded.
    `found` is called as each is found.
    BadInput where the brief names what the craft does not know.
    """
    require_known(brief, craft)
    ground = _Ground(brief, craft, routine)
    known = [routine]
    for _ in range(count):
        other = ground.another(known) or _among_everything(brief, craft, known)
        if other is None:
            break
        known.append(other)
        found()
    return tuple(sorted(known[1:], key=_cost))


def _cost(routine: Routine) -> float:
    assert routine.proof is not None
    assert routine.proof.objective is not None
    return routine.proof.objective


class _Ground:
    """The few techniques and one setting of the search, for all other plans of one routine."""

    def __init__(self, brief: Brief, craft: Craft, routine: Routine) -> None:
        self._brief, self._craft, self._routine = brief, craft, routine
        regions = {r.id for r in craft.regions}
        near, few = narrowed(brief, craft, routine, regions, MORE)
        self._attempts = Attempts(near, few, home=home_in(routine))
        self._whole = material_of(brief, craft)
        self._contest: Contest | None = None
        self._is_set_up = False

    def another(self, known: list[Routine]) -> Routine | None:
        """Return a plan that is clearly different from `known`, or None."""
        if not self._is_set_up:
            self._set_up(known)
        if self._contest is None:
            return None
        enough = NEAR_ENOUGH * score(self._routine, self._craft, self._whole).total
        best: Routine | None = None
        shared = Shared(self._contest.relaxation.table, known)
        for price, short in TRIES:
            found = self._found(self._contest, shared, price, short)
            if found is not None and (best is None or _cost(found) < _cost(best)):
                best = found
            if best is not None and _cost(best) <= enough:
                break
        return best

    def _set_up(self, known: list[Routine]) -> None:
        """Choose the first setting, with the firmness of the known peak if it may be, that gives
        another plan; and sharpen what guides its search."""
        self._is_set_up, failures = True, 0
        for setting in self._settings():
            contest = self._attempts.contest(setting)
            if contest is None or contest.bound >= NEVER:
                continue
            shared = Shared(contest.relaxation.table, known)
            searched = self._searched(contest, shared, *TRIES[0], width=_FIRST_WIDTH)
            if searched.placed is not None:
                contest.refine()
                contest.sharpen(searched.cost + contest.home, _ROUNDS)
                self._contest = contest
                return
            failures += 1
            if failures >= _FAILURES:
                return

    def _settings(self) -> Iterator[Setting]:
        firmest = max(p.pressure for p in self._routine.line if p.role is Role.PEAK)
        every = [s for some in self._attempts.settings(1) for s in some]
        yield from sorted(every, key=lambda s: s.pressure != firmest)

    def _searched(
        self, contest: Contest, shared: Shared, price: float, short: float, *, width: int = _WIDTH
    ) -> Searched:
        relaxation, at = contest.relaxation, contest.solved.at
        least = short * relaxation.most_shortage
        guide = replace(at, shortages=np.maximum(at.shortages, least))
        solved = relaxation.for_table(shared.priced(relaxation.table, price)).solve(guide)
        most = int(MOST_SHARED * contest.frame.bars)
        return SearchApart(solved, NEVER, width, shared, most).run()

    def _found(
        self, contest: Contest, shared: Shared, price: float, short: float
    ) -> Routine | None:
        placed = self._searched(contest, shared, price, short).placed
        if placed is None:
            return None
        found = routine_of(self._attempts.material, contest.frame, placed)
        found = replace(found, brief=self._brief)
        cost = score(found, self._craft, self._whole).total
        return replace(found, proof=proof_of(round(cost, 6), None))


def _among_everything(brief: Brief, craft: Craft, known: list[Routine]) -> Routine | None:
    """Return a plan looked for in the whole repertoire and all positions; None where none is found
    that shares little enough."""
    for cost in _DEAR:
        away = Away(tuple(known), cost)
        found = Attempts(brief, craft, away, home_in(known[0])).find(_EVERYTHING)
        if found is None:
            return None
        other = finished(found, craft, is_free=False)
        if all(share_alike(other, k) <= MOST_SHARED for k in known):
            return other
    return None
