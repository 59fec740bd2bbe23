"""Change one passage of a routine, and plan the rest as near to it as the rules allow."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice

from rondel.app.explain_plan import with_reasons
from rondel.app.make_plan import with_cues
from rondel.app.set_track import NOT_LAID
from rondel.checker.check import breaches, is_lawful
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.planner.around import ONCE, planned_around, planned_near
from rondel.planner.attempts import QUICK
from rondel.planner.edits import Edit, Free, LeaveOpen, Lengthen, Move, Shorten
from rondel.planner.frame import frame_of
from rondel.planner.giving_way import by_itself, given_way
from rondel.planner.groups import groups_of
from rondel.planner.material import material_of
from rondel.planner.milder import Milder, milder_edits, with_less_asked
from rondel.planner.moved import Asked, Aspect, what_moved
from rondel.planner.nearness import home_in
from rondel.planner.reasons import clinician_reasons, reasons_against
from rondel.planner.refrain_edits import refrain_request_for
from rondel.planner.refrains import refrain_rows
from rondel.planner.requests import Refused, Request, pick
from rondel.planner.targets import asked_bars, changed_bars
from rondel.planner.wishes import require_known
from rondel.planner.work_edits import request_for

#: Up to this share of the bars may give way by hand, before planning anew is tried (our choice).
LITTLE = 0.1

#: Up to this share may change in a plan made of little, before others are tried (our choice).
FAIR = 0.3

#: With everything there is, one search is enough: of 26 edits of random briefs of 15 minutes that
#: came so far, 4 gave a plan in the first one, and none of the others in one to seven more.
WHOLE = replace(QUICK, failures=1, usual_positions=True)

#: Of an edit that cannot be, so many milder ones are looked at, so many of them planned anew, and
#: so many offered (our choice).
MOST_TRIED, MOST_PLANNED, MOST_OFFERED = 6, 2, 2

#: Of smaller changes of length the largest that works is looked for, and so many of them planned
#: anew in a quarter of an hour: fewer in what lasts longer, where each takes longer (our choice).
MOST_LENGTHS_PLANNED = 3

#: So many rules in the way are told (our choice).
TOLD = 2

NOT_NEAR = (
    "No routine was found that does this and keeps the rest about as it is. Try a smaller step, "
    "or free something that you insist on."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What can be done instead of an edit that cannot be; `take_offer` does it by its `key`, which
    nothing else has that could be offered."""

    key: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """What an edit came to. Without a routine, `outcome` says why and what to do.

    `offers` then say what else was tried and can be done. `moved` tells what else is no longer as
    it was. `asked_bars` are the bars that the edit itself
    takes or sets free, `changed_bars` those that had to change besides.
    """

    outcome: Outcome
    moved: tuple[str, ...] = ()
    changed_bars: int = 0
    asked_bars: int = 0
    offers: tuple[Offer, ...] = ()


def change_plan(routine: Routine, edit: Edit, craft: Craft) -> Changed:
    """Return `routine` with the edit done and as little else changed as could be found.

    What was asked for is from then on insisted on in the routine's brief, until it is freed.
    """
    request = _request(routine, edit, craft)
    if isinstance(request, Refused):
        return _refused(request.reasons, _offers(routine, edit, craft, is_sound=False))
    outcome = _planned(request, routine, craft)
    new = outcome.routine
    if new is None:
        return _refused(outcome.reasons, _offers(routine, edit, craft))
    new = with_cues(new if request.settled else with_reasons(new, craft), craft)
    return Changed(
        outcome=Outcome(routine=new),
        moved=(
            *_gave_way(routine, new, edit, craft),
            *what_moved(routine, new, craft, _asked(request, new, craft)),
        ),
        changed_bars=changed_bars(request.target, new),
        asked_bars=asked_bars(routine, request.target),
    )


def _gave_way(old: Routine, new: Routine, edit: Edit, craft: Craft) -> Iterator[str]:
    """Yield that a time asked for gave way to `edit`, which asked for something else. What is
    insisted on from then on is the new time."""
    if old.brief is None or new.brief is None or isinstance(edit, Move | LeaveOpen | Free):
        return  # a time was asked for, or nothing is insisted on any more
    for was, now in zip(old.brief.keep, new.brief.keep, strict=False):
        if was.technique != now.technique or was.at_seconds is None or now.at_seconds is None:
            continue
        if abs(was.at_seconds - now.at_seconds) > new.clock.bar_seconds():
            name = craft.technique(was.technique).plain
            asked, start = (as_minutes(float(k.at_seconds or 0)) for k in (was, now))
            yield (
                f"You had asked for {name} at {asked}. That gave way: it is insisted on at {start} "
                "from now on."
            )


def take_offer(routine: Routine, edit: Edit, craft: Craft, key: str) -> tuple[Changed, Edit]:
    """Return `routine` with what was offered by that key when `edit` was refused, and the edit that
    this is: the one that was refused, or less of it.

    BadInput where nothing of that key is to be offered, as when the hands were changed meanwhile.
    """
    every = _milder(routine, edit, craft)
    taken = next((m for i, m in enumerate(every) if _key(i, m) == key), None)
    if taken is None:
        raise BadInput("this is not offered; ask for the change again", at=key[:40])
    changed = change_plan(taken.routine, taken.edit, craft)
    if taken.loosens and changed.outcome.routine is not None:
        changed = replace(changed, moved=(taken.loosens, *changed.moved))
    return changed, taken.edit


def _key(number: int, milder: Milder) -> str:
    digest = hashlib.sha256(milder.says.encode("utf-8")).hexdigest()
    return f"{number}-{digest[:12]}"


def _planned(request: Request, routine: Routine, craft: Craft) -> Outcome:
    """Return the routine that does what is asked, or the reasons why there is none.

    Where neighbours need give way only a little, that is taken. Else it is planned near to what was
    asked for: with little beyond what is there, and where that does not do, with everything. The
    one with the fewest changed bars is taken; but the refrain is the last to go, as a couple hears
    it change everywhere.
    """
    if request.settled is not None:
        return Outcome(routine=request.settled)
    reasons = _reasons(request, craft)
    if reasons:
        return Outcome(routine=None, reasons=reasons)
    by_hand = given_way(request, routine, craft, lambda other: is_lawful(other, craft))
    if by_hand is not None and by_hand[1] <= LITTLE * routine.bars:
        return Outcome(routine=by_hand[0])
    found = [] if by_hand is None else [by_hand[0]]
    around = planned_around(request, routine, craft)
    if around is not None and request.is_met(around) and is_lawful(around, craft):
        found.append(around)
        is_fair = changed_bars(request.target, around) <= FAIR * routine.bars
        if is_fair and _has_its_home(around, request):
            return Outcome(routine=_nearest(found, request))
    last = planned_near(request, routine, request.brief, craft, WHOLE)
    if last.routine is not None and request.is_met(last.routine):
        found.append(last.routine)
    if found:
        return Outcome(routine=_nearest(found, request))
    reasons = (NOT_NEAR,) if last.routine is not None else last.reasons
    return Outcome(routine=None, reasons=(*_in_the_way(request, routine, craft), *reasons))


def _nearest(found: list[Routine], request: Request) -> Routine:
    """Return the one with the refrain as it should be, if there is one, and of these the one with
    the fewest bars changed besides, the first of equals."""
    return min(
        found,
        key=lambda routine: (
            not _has_its_home(routine, request),
            changed_bars(request.target, routine),
        ),
    )


def _has_its_home(routine: Routine, request: Request) -> bool:
    """True for the refrain that was there, or that was asked for."""
    return Aspect.ROW in request.aspects or home_in(routine) == request.home


def _in_the_way(request: Request, routine: Routine, craft: Craft) -> tuple[str, ...]:
    """Return the rules that the edit by itself would break, as the checker words them."""
    alone = by_itself(request, routine, craft)
    if alone is None:
        return ()
    broken = sorted(breaches(alone, craft), key=lambda f: f.at_bar)
    return tuple(f"By itself, this would break a rule: {f.message}" for f in broken[:TOLD])


def passage_at(routine: Routine, seconds: float) -> Passage:
    """Return the passage of the line that is under way at `seconds`."""
    return routine.passage_at(routine.clock.beat_at(seconds) + 1e-6)


def _refused(reasons: tuple[str, ...], offers: tuple[Offer, ...]) -> Changed:
    return Changed(outcome=Outcome(routine=None, reasons=reasons), offers=offers)


def _milder(routine: Routine, edit: Edit, craft: Craft) -> tuple[Milder, ...]:
    """Return what could be offered instead, the likeliest first, none of it tried: less of it, and
    the same with one wish of the brief loosened."""
    picked = pick(routine, craft, edit.passage)
    if isinstance(picked, Refused):
        return ()
    less = tuple(milder_edits(picked, edit))
    if not _is_of_length(edit):
        less = less[:MOST_TRIED]
    left = MOST_TRIED - min(len(less), MOST_OFFERED if _is_of_length(edit) else MOST_TRIED)
    return (*less, *islice(with_less_asked(picked, edit, craft), left))


def _is_of_length(edit: Edit) -> bool:
    return isinstance(edit, Lengthen | Shorten)


def _offers(
    routine: Routine, edit: Edit, craft: Craft, *, is_sound: bool = True
) -> tuple[Offer, ...]:
    """Return what can be done instead, each tried: less of it; or, where what was asked `is_sound`
    by itself, the same with one wish of the brief loosened."""
    every = tuple(enumerate(_milder(routine, edit, craft)))
    every = every if is_sound else tuple((i, m) for i, m in every if m.edit != edit)
    trials = {i: _Trial(m.routine, m.edit, craft) for i, m in every}
    possible: dict[int, bool | None] = {}
    planned = 0
    if _is_of_length(edit):
        less = [i for i, m in every if m.edit != edit]
        quarters = max(1.0, routine.clock.total_seconds / (15 * 60))
        most = _Most([trials[i] for i in less], int(MOST_LENGTHS_PLANNED / quarters))
        possible, planned = dict(zip(less, most.found(), strict=True)), most.planned
    for i, _ in every:
        if i not in possible:
            possible[i] = trials[i].gives_way()
    for i, _ in every:
        if list(possible.values()).count(True) >= MOST_OFFERED or planned >= MOST_PLANNED:
            break
        if possible[i] is None:
            possible[i], planned = trials[i].is_planned(), planned + 1
    found = (Offer(key=_key(i, m), says=m.says) for i, m in every if possible[i])
    return tuple(islice(found, MOST_OFFERED))


class _Trial:
    """An edit of a routine that may be offered, looked at in two steps: the second takes longer."""

    def __init__(self, routine: Routine, edit: Edit, craft: Craft) -> None:
        self._routine, self._craft = routine, craft
        self._request = _request(routine, edit, craft)

    @property
    def is_refused(self) -> bool:
        """True where the edit is refused as it is, before anything is looked for."""
        return isinstance(self._request, Refused)

    def gives_way(self) -> bool | None:
        """True where neighbours give way enough, False where it cannot be, None where it has to be
        planned anew to know."""
        request, craft = self._request, self._craft
        if isinstance(request, Refused):
            return False
        if request.settled is not None:
            return True
        if _reasons(request, craft):
            return False
        lawful = given_way(request, self._routine, craft, lambda r: is_lawful(r, craft))
        return True if lawful is not None else None

    def is_planned(self) -> bool:
        """True where a routine with the edit is found near by."""
        assert not isinstance(self._request, Refused)
        around = planned_around(self._request, self._routine, self._craft, ONCE)
        return (
            around is not None and self._request.is_met(around) and is_lawful(around, self._craft)
        )


class _Most:
    """Looks for the first that works of edits that ask for less and less. Where one works, those
    after it are taken to work as well, so that few have to be tried: the first, the last, and then
    what is half-way. Only so many are planned anew."""

    def __init__(self, trials: list[_Trial], may_plan: int) -> None:
        self._trials, self._may_plan = trials, may_plan
        self.planned = 0

    def found(self) -> list[bool | None]:
        """Return True for the one found, False for all others; where none was found and the last
        might be, by a plan that was not made, None for that."""
        answers: list[bool | None] = [False] * len(self._trials)
        able = [place for place, trial in enumerate(self._trials) if not trial.is_refused]
        if not able:
            return answers
        first = self._works(able[0])
        last = first if first or len(able) == 1 else self._works(able[-1])
        if first or not last:
            answers[able[0] if first else able[-1]] = last
            return answers
        fails, works = 0, len(able) - 1
        while works - fails > 1:
            at = (fails + works) // 2
            fails, works = (fails, at) if self._works(able[at]) else (at, works)
        answers[able[works]] = True
        return answers

    def _works(self, place: int) -> bool | None:
        """Return whether it works; None where that would have to be planned to know."""
        trial = self._trials[place]
        answer = trial.gives_way()
        if answer is None and self.planned < self._may_plan:
            self.planned += 1
            return trial.is_planned()
        return answer


def _request(routine: Routine, edit: Edit, craft: Craft) -> Request | Refused:
    if routine.music.kind == "track" and (routine.brief is None or routine.brief.laid is None):
        return Refused((NOT_LAID,))
    picked = pick(routine, craft, edit.passage)
    if isinstance(picked, Refused):
        return picked
    require_known(picked.brief, craft, at="brief")
    first = clinician_reasons(picked.brief, craft)
    if first:
        return Refused(first)
    if picked.group.is_refrain:
        return refrain_request_for(picked, edit)
    return request_for(picked, edit)


def _reasons(request: Request, craft: Craft) -> tuple[str, ...]:
    """Return what arithmetic alone shows to be impossible, before anything is planned."""
    material, frame = material_of(request.brief, craft), frame_of(request.brief)
    rows = refrain_rows(material, frame)
    return reasons_against(request.brief, craft, material, frame, rows)


def _asked(request: Request, new: Routine, craft: Craft) -> Asked:
    """Return what the teacher asked for, as it stands in `new`: the nearest that does it. Of bars
    left free that are planned again nothing stands there any more."""
    is_home = Aspect.ROW in request.aspects
    able = [
        g.start_bar
        for g in groups_of(new, craft)
        if g.is_refrain is is_home and (is_home or request.technique in g.techniques)
    ]
    if request.technique is None and Aspect.START not in request.aspects:
        able = []
    nearest = min(able, key=lambda bar: abs(bar - request.new_bar), default=None)
    return Asked(old_bar=request.old_bar, new_bar=nearest, aspects=request.aspects)
