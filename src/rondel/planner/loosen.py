"""The smallest sets of wishes to loosen: each planned again, and offered only where that worked.

Reasons name the wishes that they are about, so a set is worth a try only where it holds one wish of
every reason, and no reason is left once it is loosened. Effort is counted, never timed: the same
brief gets the same answer on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations, islice

from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_to_dict
from rondel.model.finding import Change, Loosening
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.case import Reason
from rondel.planner.reasons import is_ruled_out, reasons_of
from rondel.planner.steps import Step, Wish, wishes_of
from rondel.planner.trade import costs_of

_MOST_OFFERS = {1: 6, 2: 3, 3: 2, 4: 1}
_MOST_EFFORT = {1: 24.0, 2: 16.0, 3: 10.0, 4: 8.0}  # for sets of so many wishes; see _effort
_MOST_SUMS = 150  # sets of one size on which the arithmetic is done
_MOST_TRIES_A_WISH = 2
_MOST_LOOKED_BEHIND = 12  # sets of one size that are asked for new reasons
_LAST_EFFORT = 20.0  # to thin out a larger set, where no small one was found

#: Plans a brief quickly, or returns None.
Plans = Callable[[Brief], Routine | None]

#: Wishes, each loosened by one step.
Set = tuple[tuple[Wish, Step], ...]


def loosenings(brief: Brief, craft: Craft, plans: Plans) -> tuple[Loosening, ...]:
    """Return the smallest sets of wishes that, loosened together, give a routine; `plans` plans
    to find out. The mildest step that works is offered for a wish."""
    trials = _Trials(brief, craft, plans)
    reasons = reasons_of(brief, craft)
    wishes = wishes_of(brief, craft)
    named = _named(reasons) or frozenset(w.name for w in wishes)
    for size in _MOST_OFFERS:
        some = tuple(w for w in wishes if w.name in named)
        found = _of_size(size, some, reasons, trials)
        if found:
            return _offers(found, trials)
        named |= _hidden(size, some, reasons, trials, wishes)
    last = _thinned(wishes, named, trials)
    return _offers([last], trials) if last else ()


def _named(reasons: tuple[Reason, ...]) -> frozenset[str]:
    return frozenset().union(*(reason.wishes for reason in reasons))


def _hidden(
    size: int,
    some: tuple[Wish, ...],
    reasons: tuple[Reason, ...],
    trials: _Trials,
    wishes: tuple[Wish, ...],
) -> frozenset[str]:
    """Return the wishes in the way once the first reasons are gone: what new reasons are about,
    or every wish where no reason is left and still no plan was found."""
    found: frozenset[str] = frozenset()
    for set_of in islice(_combinations(size, some, reasons), _MOST_LOOKED_BEHIND):
        changed = trials.changed(tuple((wish, wish.steps[-1]) for wish in set_of))
        if changed is None:
            continue
        named = _named(reasons_of(changed, trials.craft))
        if not named:
            return frozenset(w.name for w in wishes)
        if any(name.startswith("keep ") for name in named):  # their numbers have moved up
            named |= {w.name for w in wishes if w.name.startswith("keep ")}
        found |= named
    return found


@dataclass
class _Trials:
    """What has been tried for one brief, and how much effort is left."""

    brief: Brief
    craft: Craft
    plans: Plans
    left: float = 0.0
    routines: dict[Brief, Routine | None] = field(default_factory=dict)
    ruled_out: dict[Brief, bool] = field(default_factory=dict)

    def changed(self, some: Set) -> Brief | None:
        """Return the brief with every step taken; None where they make no brief together."""
        brief = self.brief
        try:
            for _, step in some:
                brief = step.change(brief)
        except ValueError:
            return None
        return brief

    def may_work(self, some: Set) -> bool:
        """True where arithmetic has nothing against it."""
        brief = self.changed(some)
        if brief is None:
            return False
        if brief not in self.ruled_out:
            self.ruled_out[brief] = is_ruled_out(brief, self.craft)
        return not self.ruled_out[brief]

    def works(self, some: Set) -> bool:
        """True where it was planned, now or before; False too where no search is left."""
        brief = self.changed(some)
        if brief is None or not self.may_work(some):
            return False
        if brief not in self.routines:
            if self.left <= 0:
                return False
            self.routines[brief] = self.plans(brief)
            self.left -= _effort(brief, failed=self.routines[brief] is None)
        return self.routines[brief] is not None


def _effort(brief: Brief, *, failed: bool) -> float:
    """Return about how long a search takes, in those of a quarter of an hour that keep nothing.

    Everything insisted on, and minutes left free, double what has to be told apart; a search that
    fails tries again.
    """
    apart = 2.0 ** min(len(brief.keep) + bool(brief.open_minutes), 3)
    return max(1.0, float(brief.minutes) / 15) * apart * (2 if failed else 1)


def _of_size(
    size: int, wishes: tuple[Wish, ...], reasons: tuple[Reason, ...], trials: _Trials
) -> list[Set]:
    """Return sets of `size` wishes that work."""
    found: list[Set] = []
    trials.left, sums = _MOST_EFFORT[size], _MOST_SUMS
    for some in _combinations(size, wishes, reasons):
        if trials.left <= 0 or sums <= 0 or len(found) >= _MOST_OFFERS[size]:
            break
        sums -= 1
        working = _working(some, trials)
        if working is not None:
            least = _least(working, trials)
            if least not in found:
                found.append(least)
    shortest = min((len(s) for s in found), default=0)
    return [s for s in found if len(s) == shortest]


def _combinations(
    size: int, wishes: tuple[Wish, ...], reasons: tuple[Reason, ...]
) -> Iterator[tuple[Wish, ...]]:
    """Yield sets that hold a wish of every reason, those that were named first at the front."""
    numbers = sorted(combinations(range(len(wishes)), size), key=sum)
    for picked in numbers:
        some = tuple(wishes[i] for i in picked)
        if _answers(some, reasons):
            yield some


def _answers(some: tuple[Wish, ...], reasons: tuple[Reason, ...]) -> bool:
    names = {wish.name for wish in some}
    return all(reason.wishes & names for reason in reasons)


def _working(some: tuple[Wish, ...], trials: _Trials) -> Set | None:
    """Return the mildest steps found to work; None where not even the boldest do.

    The boldest are tried first, since a search that fails takes longest.
    """
    boldest: Set = tuple((wish, wish.steps[-1]) for wish in some)
    if not trials.works(boldest):
        return _milder(boldest, trials) if len(some) == 1 and len(some[0].steps) > 1 else None
    return _milder(boldest, trials) or boldest


def _milder(boldest: Set, trials: _Trials) -> Set | None:
    """Return steps that work and are milder one by one, the first wish first; else None."""
    found: Set | None = None
    now = boldest
    for i, (wish, _) in enumerate(boldest):
        fine = [
            some
            for step in wish.steps[:-1]
            if trials.may_work(some := (*now[:i], (wish, step), *now[i + 1 :]))
        ]
        for some in fine[:_MOST_TRIES_A_WISH]:
            if trials.works(some):
                found = now = some
                break
    return found


def _least(some: Set, trials: _Trials) -> Set:
    """Return `some` without the wishes that it works without."""
    for one in some:
        rest = tuple(s for s in some if s is not one)
        if rest and len(some) > 1 and trials.works(rest):
            return _least(rest, trials)
    return some


def _thinned(wishes: tuple[Wish, ...], named: frozenset[str], trials: _Trials) -> Set | None:
    """Return a set that works, found by loosening all and taking wishes back one by one."""
    trials.left = _LAST_EFFORT
    for some in (tuple(w for w in wishes if w.name in named), wishes):
        whole: Set = tuple((wish, wish.steps[-1]) for wish in some)
        if whole and trials.works(whole):
            break
    else:
        return None
    for one in whole:
        rest = tuple(s for s in whole if s is not one)
        if rest and trials.works(rest):
            whole = rest
    return _milder(whole, trials) or whole


# ---- what is offered -------------------------------------------------------------------------


def _offers(found: list[Set], trials: _Trials) -> tuple[Loosening, ...]:
    """Return what is offered, with what each costs; the smoothest routine is pointed out."""
    offers, smoothness = [], []
    for some in found:
        changed = trials.changed(some)
        assert changed is not None
        routine = trials.routines[changed]
        assert routine is not None
        offers.append(
            Loosening(
                changes=changes_between(trials.brief, changed),
                sentences=tuple(step.says for _, step in some),
                costs=costs_of(trials.brief, changed, routine, trials.craft),
            )
        )
        smoothness.append(routine.proof.objective / float(changed.minutes))
    best = smoothness.index(min(smoothness))
    if len(offers) > 1:
        says = "Of these changes, this one gives the smoothest routine."
        offers[best] = replace(offers[best], costs=(*offers[best].costs, says))
    return tuple(offers)


def changes_between(brief: Brief, changed: Brief) -> tuple[Change, ...]:
    """Return the keys of brief.toml that differ, with their new values."""
    old, new = brief_to_dict(brief), brief_to_dict(changed)
    return tuple(
        Change(wish=key, to=new.get(key))
        for key in dict.fromkeys((*old, *new))
        if old.get(key) != new.get(key)
    )
