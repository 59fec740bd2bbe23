"""The smallest sets of wishes to loosen: each planned again, and offered only where that worked.

Reasons name the wishes that they are about, so a set is worth a try only where it holds one wish of
every reason, and no reason is left once it is loosened. Effort is counted, never timed: the same
brief gets the same answer on every machine.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import combinations, islice

from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_to_dict
from rondel.model.finding import Change, Loosening
from rondel.model.repertoire import Craft
from rondel.planner.case import Reason
from rondel.planner.reasons import is_ruled_out, reasons_of
from rondel.planner.steps import TIMES, Step, Wish, times_wish, wishes_of
from rondel.planner.trade import costs_of
from rondel.planner.trial import Trial, effort_of, in_fewest_positions

_MOST_OFFERS = {1: 5, 2: 3, 3: 2, 4: 1}
#: Effort on sets of so many wishes (see `Trial.spent`): while nothing is found, and once there is.
_MOST_EFFORT = {1: 12.0, 2: 10.0, 3: 8.0, 4: 10.0}
_MOST_EFFORT_FOR_MORE = 6.0
_MOST_EFFORT_FOR_NEARER = 5.0  # on finding how little of one wish is enough
_MANY = 3
_MOST_SUMS = 150  # sets of one size on which the arithmetic is done
_MOST_LOOKED_BEHIND = 12  # sets of one size that are asked for new reasons
_LAST_EFFORT = 40.0  # to thin out a larger set, where no small one was found

#: Wishes, each loosened by one step.
Set = tuple[tuple[Wish, Step], ...]


def loosenings(brief: Brief, trial: Trial) -> tuple[Loosening, ...]:
    """Return the smallest sets of wishes that, loosened together, give a routine; `trial` plans
    to find out. The mildest step that works is offered for a wish."""
    craft = trial.craft
    trials = _Trials(brief, craft, trial)
    reasons = reasons_of(brief, craft)
    wishes = wishes_of(brief, craft)
    named = _named(reasons) or frozenset(w.name for w in wishes)
    for size in _MOST_OFFERS:
        some = tuple(w for w in wishes if w.name in named)
        times = times_wish(brief, craft, named)
        if times is not None and times.names & named:
            some = (times, *some)
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
    for set_of in islice(_combinations(size, some, reasons, trials), _MOST_LOOKED_BEHIND):
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
    """What has been tried for one brief, and up to where effort may go."""

    brief: Brief
    craft: Craft
    trial: Trial
    start: float = 0.0
    limit: float = 0.0
    is_deep: bool = False
    ruled_out: dict[Brief, bool] = field(default_factory=dict)

    @property
    def is_over(self) -> bool:
        return self.trial.spent >= self.limit

    def allow(self, effort: float) -> None:
        """Let so much more effort be spent from here on."""
        self.start = self.trial.spent
        self.limit = self.start + effort

    def found_one(self) -> None:
        """Let less be spent on milder steps and further sets, now that something is found."""
        self.limit = min(self.limit, self.start + _MOST_EFFORT_FOR_MORE)

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
        """True where it was planned, now or before; False too where it takes more effort than is
        left."""
        brief = self.changed(some)
        if brief is None or not self.may_work(some):
            return False
        if brief in self.trial.routines:
            return True
        narrow = in_fewest_positions(brief, self.craft)
        if self.trial.spent + effort_of(narrow) > self.limit:
            return False
        return self.trial.works(brief, is_deep=self.is_deep)


def _of_size(
    size: int, wishes: tuple[Wish, ...], reasons: tuple[Reason, ...], trials: _Trials
) -> list[Set]:
    """Return sets of `size` wishes that work."""
    found: list[Set] = []
    trials.allow(_MOST_EFFORT[size])
    for some in islice(_combinations(size, wishes, reasons, trials), _MOST_SUMS):
        if trials.is_over or len(found) >= _MOST_OFFERS[size]:
            break
        limit, before = trials.limit, trials.trial.spent
        working = _working(some, trials)
        if working is not None:
            least = _closer(_least(working, trials), trials)
            if trials.changed(least) not in map(trials.changed, found):
                found.append(least)
            trials.found_one()
        if some[0].name == TIMES and size == 1:  # the effort for it is counted apart
            trials.limit = limit + trials.trial.spent - before
    shortest = min((len(s) for s in found), default=0)
    return [s for s in found if len(s) == shortest]


def _combinations(
    size: int, wishes: tuple[Wish, ...], reasons: tuple[Reason, ...], trials: _Trials
) -> Iterator[tuple[Wish, ...]]:
    """Yield sets that hold a wish of every reason, those that were named first at the front."""
    named = frozenset(wish.name for wish in wishes)
    numbers = sorted(combinations(range(len(wishes)), size), key=sum)
    for picked in numbers:
        some = tuple(wishes[i] for i in picked)
        if not _answers(some, reasons):
            continue
        beside = frozenset(wish.name for wish in some)
        if TIMES in beside and some[0].also & beside:  # a keep is spoken of once
            times = times_wish(trials.brief, trials.craft, named, beside)
            if times is None:
                continue
            some = (times, *some[1:])
        yield some


def _answers(some: tuple[Wish, ...], reasons: tuple[Reason, ...]) -> bool:
    names = frozenset[str]().union(*(wish.names for wish in some))
    return all(reason.wishes & names for reason in reasons)


def _working(some: tuple[Wish, ...], trials: _Trials) -> Set | None:
    """Return the mildest steps found to work: the mildest that arithmetic allows, else the boldest
    and whatever of them may be milder; None where not even the boldest do. Of many wishes the
    boldest come first, since a search that keeps much takes long to fail."""
    boldest: Set = tuple((wish, wish.steps[-1]) for wish in some)
    mildest = _mildest(boldest, trials)
    if not trials.may_work(mildest):
        return None
    if len(some) < _MANY and trials.works(mildest):
        return mildest
    if trials.works(boldest):
        trials.found_one()
        return _milder(boldest, mildest, trials)
    if len(some) == 1:
        between = _between(boldest, 0, mildest[0][1], trials)
        return between if trials.works(between) else None
    return None


def _milder(boldest: Set, mildest: Set, trials: _Trials) -> Set:
    """Return `boldest` with steps as mild as were found to work, one wish after the other."""
    now = boldest
    for i, one in enumerate(mildest):
        milder = (*now[:i], one, *now[i + 1 :])
        if trials.works(milder):
            now = milder
        elif len(now) < _MANY:
            now = _nearest(now, i, one[1], trials)
    return now


def _nearest(now: Set, i: int, mild: Step, trials: _Trials) -> Set:
    """Return `now`, which works, with the step of wish `i` nearest to `mild`, which does not, that
    was found to work: each time half-way between the two. The effort for it is counted apart."""
    limit, before = trials.limit, trials.trial.spent
    trials.limit = before + _MOST_EFFORT_FOR_NEARER
    while not trials.is_over:
        between = _between(now, i, mild, trials)
        if between == now:
            break
        if trials.works(between):
            now = between
        else:
            mild = between[i][1]
    trials.limit = limit + trials.trial.spent - before
    return now


def _between(now: Set, i: int, mild: Step, trials: _Trials) -> Set:
    """Return `now` with the step of wish `i` half-way to `mild`, nearer to `now` where there is no
    middle; `now` itself where they are neighbours. What arithmetic rules out is passed over."""
    wish, bold = now[i]
    low, high = wish.steps.index(mild), wish.steps.index(bold)
    able = [
        step
        for step in wish.steps[low + 1 : high]
        if trials.may_work((*now[:i], (wish, step), *now[i + 1 :]))
    ]
    step = able[len(able) // 2] if able else bold
    return (*now[:i], (wish, step), *now[i + 1 :])


def _mildest(boldest: Set, trials: _Trials) -> Set:
    """Return the mildest steps that arithmetic has nothing against, the first wish first."""
    now = boldest
    for i, (wish, _) in enumerate(boldest):
        for step in wish.steps:
            milder = (*now[:i], (wish, step), *now[i + 1 :])
            if trials.may_work(milder):
                now = milder
                break
    return now


def _closer(some: Set, trials: _Trials) -> Set:
    """Return `some` with steps nearer to what was asked for, where such were found to work: the
    nearest, or else what is half-way. The effort for it is counted apart."""
    limit, before = trials.limit, trials.trial.spent
    trials.limit = before + _MOST_EFFORT_FOR_NEARER
    for i, (wish, step) in enumerate(some):
        sets = [(*some[:i], (wish, one), *some[i + 1 :]) for one in step.closer]
        able = [one for one in sets if trials.may_work(one)]
        fails, works, at = -1, len(able), 0
        while works - fails > 1 and not trials.is_over:
            fails, works = (fails, at) if trials.works(able[at]) else (at, works)
            at = (fails + works) // 2
        some = able[works] if works < len(able) else some
    trials.limit = limit + trials.trial.spent - before
    return some


def _least(some: Set, trials: _Trials) -> Set:
    """Return `some` without the wishes that it works without, which is looked into deeply."""
    for one in some:
        rest = tuple(s for s in some if s is not one)
        if rest and _deeply(rest, trials):
            return _least(rest, trials)
    return some


def _deeply(some: Set, trials: _Trials) -> bool:
    """True where it works in one position or in a few; the effort for it is counted apart."""
    limit, before = trials.limit, trials.trial.spent
    trials.is_deep, trials.limit = True, float("inf")
    found = trials.works(some)
    trials.is_deep, trials.limit = False, limit + trials.trial.spent - before
    return found


def _thinned(wishes: tuple[Wish, ...], named: frozenset[str], trials: _Trials) -> Set | None:
    """Return a set that works, found by loosening all and taking wishes back one by one:
    what is insisted on last, since that makes searches longer."""
    trials.allow(_LAST_EFFORT)
    for some in (tuple(w for w in wishes if w.name in named), wishes):
        whole: Set = tuple((wish, wish.steps[-1]) for wish in some)
        if whole and _deeply(whole, trials):
            break
    else:
        return None
    for one in reversed(whole):
        rest = tuple(s for s in whole if s is not one)
        if rest and trials.works(rest):
            whole = rest
    mildest = _mildest(whole, trials)
    return mildest if trials.works(mildest) else whole


# ---- what is offered -------------------------------------------------------------------------


def _offers(found: list[Set], trials: _Trials) -> tuple[Loosening, ...]:
    """Return what is offered, with what each costs; the smoothest routine is pointed out."""
    offers, smoothness = [], []
    for some in found:
        changed = trials.changed(some)
        assert changed is not None
        routine = trials.trial.routines[changed]
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
