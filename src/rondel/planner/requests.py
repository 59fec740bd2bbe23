"""An edit, turned into what the planner understands: a changed brief and a routine to stay near.

Most edits become something that the teacher insists on, so that they stand in later plans too until
she frees them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from rondel.model.brief import Brief, Keep
from rondel.model.names import ON_SIDE_SAYS
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.words import Role, Side
from rondel.planner import edit_limits as limits
from rondel.planner.constraints import open as open_bars
from rondel.planner.constraints import opening, sides
from rondel.planner.edits import (
    Begin,
    Edit,
    Free,
    Insist,
    LeaveOpen,
    Lengthen,
    Move,
    Press,
    Shorten,
    Swap,
)
from rondel.planner.frame import Frame, frame_of
from rondel.planner.groups import Group, groups_of
from rondel.planner.moved import Aspect
from rondel.planner.targets import Target

#: A change of length where the teacher names none (our choice).
USUAL_SECONDS = 15

#: A length insisted on may be a bar off. This share of a bar, added or taken away, leaves it the
#: bars asked for and one more (or one fewer), and not one that undoes the edit.
_NUDGE = Fraction(1, 8)

#: How the reason of a passage begins that the teacher insists on.
INSISTS = "You insist on it"

#: A refrain as (technique, pressure, bars) of its passages.
Home = tuple[tuple[str | None, int, int], ...]


@dataclass(frozen=True, kw_only=True)
class Request:
    """What to plan. `is_met` tells whether a plan does what was asked beyond its brief.

    `new_bar` is where the passage asked for should begin, and `technique` what it should be (None:
    open bars). Where nothing has to be planned, `settled` is the routine.
    """

    brief: Brief
    target: Routine
    home: Home
    old_bar: int
    new_bar: int
    technique: str | None
    aspects: frozenset[Aspect]
    is_met: Callable[[Routine], bool] = lambda _: True
    settled: Routine | None = None


@dataclass(frozen=True, slots=True)
class Refused:
    """An edit that cannot be, and why."""

    reasons: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Picked:
    """The passage that an edit speaks of, with all that it takes to change it.

    `passage` is the one on the first side of its pair; `keep` the place in the brief's keeps of
    what is insisted on there, or None.
    """

    routine: Routine
    brief: Brief
    craft: Craft
    frame: Frame
    group: Group
    passage: Passage
    keep: int | None
    is_rest: bool

    @property
    def technique(self) -> Technique:
        assert self.passage.technique is not None
        return self.craft.technique(self.passage.technique)

    @property
    def name(self) -> str:
        return self.technique.plain

    @property
    def is_first(self) -> bool:
        return self.group.start_bar == 0

    @property
    def is_last(self) -> bool:
        return self.group.end_bar >= self.routine.bars

    def seconds_at(self, bar: int) -> Fraction:
        return bar * self.frame.bar_seconds

    def minutes_of(self, bars: int, nudge: Fraction = Fraction(0)) -> Fraction:
        return (bars + nudge) * self.frame.bar_seconds / 60

    def brief_with(self, keep: Keep | None, **changes: Fraction) -> Brief:
        """Return the brief with `keep` in the place of what was insisted on here, or without."""
        kept = list(self.brief.keep)
        if self.keep is not None:
            kept[self.keep : self.keep + 1] = [] if keep is None else [keep]
        elif keep is not None:
            kept.append(keep)
        return replace(self.brief, keep=tuple(kept), **changes)  # type: ignore[arg-type]

    def insisted(self) -> Keep:
        """Return what is insisted on here already, or the bare technique."""
        if self.keep is not None:
            return self.brief.keep[self.keep]
        return Keep(technique=self.technique.id)


def pick(routine: Routine, craft: Craft, id: str) -> Picked | Refused:
    """Return what the passage called `id` stands for, or why it cannot be changed."""
    brief = routine.brief
    if brief is None:
        return Refused(
            (
                "This routine came without its brief, so it cannot be planned again. Plan it from "
                "a brief first; `rondel plan BRIEF --near ROUTINE` stays near to it.",
            )
        )
    groups = groups_of(routine, craft)
    found = [(g, p) for g in groups for p in g.passages if p.id == id]
    if not found:
        return Refused((limits.unknown_passage(id, [p.id for p in routine.passages]),))
    group, pointed = found[0]
    unknown = [p.technique for p in group.passages if p.technique is not None]
    for technique in unknown:
        if not craft.has_technique(technique):
            return Refused((limits.unknown_technique(technique, craft),))
    is_rest = pointed.role is Role.REST and not group.is_turning
    alike = [p for p in group.work if p.technique == pointed.technique and not is_rest]
    passage = alike[0] if alike else group.work[0]
    if group.is_refrain:
        passage = pointed
    return Picked(
        routine=routine,
        brief=brief,
        craft=craft,
        frame=frame_of(brief),
        group=group,
        passage=passage,
        keep=_keep_of(brief, routine, groups, group, passage),
        is_rest=is_rest,
    )


def _keep_of(
    brief: Brief, routine: Routine, groups: tuple[Group, ...], group: Group, passage: Passage
) -> int | None:
    """Return which keep of `brief` speaks of `group`: of all that do the technique, the group that
    is marked as kept, or else the one nearest to the time insisted on, or else the first."""
    for number, keep in enumerate(brief.keep):
        if keep.technique != passage.technique:
            continue
        able = [
            g
            for g in groups
            if not g.is_refrain and any(p.technique == keep.technique for p in g.work)
        ]
        at = float(keep.at_seconds) if keep.at_seconds is not None else None
        able.sort(
            key=lambda g: (
                abs(routine.start_seconds(g.first) - at) if at is not None else 0.0,
                not any(p.kept for p in g.work),
                g.start_bar,
            )
        )
        if able and able[0] is group:
            return number
    return None


def request_for(picked: Picked, edit: Edit) -> Request | Refused:
    """Return what to plan for an edit of anything but the refrain, or why it cannot be."""
    if picked.group.is_turning:
        return Refused(
            (
                "Here the receiver turns over. It comes with the change of position and cannot be "
                "changed by itself; `positions` in the brief tells how they may lie.",
            )
        )
    if picked.group.is_open:
        return _for_open(picked, edit)
    match edit:
        case Lengthen() | Shorten():
            return _resized(picked, edit)
        case Move():
            return _moved(picked, edit)
        case Swap():
            return _swapped(picked, edit)
        case Begin():
            return _begun(picked, edit)
        case Press():
            return _pressed(picked, edit)
        case Insist():
            return _insisted(picked)
        case Free():
            return _freed(picked)
        case LeaveOpen():
            return _left_open(picked)
    raise TypeError(f"{type(edit).__name__} is no edit")


def _of_rest(picked: Picked) -> Refused:
    return Refused(
        (
            f"This is the rest that answers {picked.name}, and it follows from it; change "
            f"{picked.passage.id} instead.",
        )
    )


def bars_for(edit: Lengthen | Shorten, frame: Frame, most: int) -> int:
    """Return by how many bars on each side to change, at least one; `most` where none is named."""
    if edit.seconds is not None:
        return max(1, round(edit.seconds / frame.bar_seconds))
    usual = max(1, round(USUAL_SECONDS * frame.scale / frame.bar_seconds))
    return min(usual, max(1, most))


def _resized(picked: Picked, edit: Lengthen | Shorten) -> Request | Refused:
    """A change of length. It gives or takes at its end, or at its start where that is softer."""
    if picked.is_rest:
        return _of_rest(picked)
    now, group = picked.passage.bars, picked.group
    bounds = limits.bars_allowed(picked.frame, group.first.role)
    is_longer = isinstance(edit, Lengthen)
    room = bounds[1] - now if is_longer else now - bounds[0]
    by = bars_for(edit, picked.frame, room)
    able = (now + 1, bounds[1]) if is_longer else (bounds[0], now - 1)
    wanted = now + by if is_longer else now - by
    bars = limits.fitting_bars(picked.technique, picked.frame, wanted, able)
    if room < 1 or bars is None or (edit.seconds is not None and by > room):
        says = limits.length_reason(picked.technique, now, bounds, picked.frame)
        return Refused((says,))
    row = _row(group, picked.passage, bars=bars, frame=picked.frame)
    total = sum(n for _, n in row)
    start = group.start_bar if _gives_at_end(picked) else group.end_bar - total
    if start < 0:
        return Refused((f"There is no room for {picked.name} to be that long.",))
    target = Target(picked.routine)
    target.vacate(group.start_bar, group.end_bar)
    target.lay(start, row)
    first = start + (picked.passage.start_bar - group.start_bar)
    keep = replace(
        picked.insisted(),
        at_seconds=picked.seconds_at(first),
        minutes=picked.minutes_of(bars, _NUDGE if is_longer else -_NUDGE),
    )
    return _request(picked, target, picked.brief_with(keep), start, Aspect.LENGTH)


def _row(
    group: Group, passage: Passage, *, bars: int, frame: Frame | None = None
) -> list[tuple[Passage, int]]:
    """Return the passages of `group` with `bars` for what `passage` does on each side; a rest
    becomes as long as the rule asks."""
    row = []
    deep = group.work_bars - passage.bars + bars
    for p in group.passages:
        is_same = p.technique == passage.technique and p.role is passage.role
        is_rest = p.role is Role.REST and frame is not None
        if is_rest and frame is not None:
            row.append((p, max(p.bars, limits.rest_bars(frame, deep))))
        else:
            row.append((p, bars if is_same else p.bars))
    return row


def _gives_at_end(picked: Picked) -> bool:
    """True where what follows can give or take bars, or what comes before cannot either."""
    if picked.is_first or picked.is_last:
        return picked.is_first
    groups = groups_of(picked.routine, picked.craft)
    place = next(i for i, g in enumerate(groups) if g.start_bar == picked.group.start_bar)
    return _is_soft(groups[place + 1]) or not _is_soft(groups[place - 1])


def _is_soft(group: Group) -> bool:
    """True for work that nobody insists on."""
    return group.first.role is Role.WORK and not any(p.kept for p in group.passages)


def _moved(picked: Picked, edit: Move) -> Request | Refused:
    group, name = picked.group, picked.name
    if picked.is_first or picked.is_last:
        where = "begins" if picked.is_first else "ends"
        return Refused(
            (
                f"The routine {where} with {name}, and something must stand there. Do another "
                "technique in its place, or move what comes "
                f"{'after' if picked.is_first else 'before'} it.",
            )
        )
    start = round(edit.to_seconds / picked.frame.bar_seconds)
    end = start + group.bars
    if start == group.start_bar:
        at = as_minutes(float(picked.seconds_at(start)))
        return Refused((f"{name} starts at {at} already, to the bar.",))
    if start <= 0 or end >= picked.routine.bars:
        lasts = limits.seconds_says(picked.frame, group.bars)
        whole = as_minutes(float(picked.frame.total_seconds))
        return Refused(
            (
                f"{name} takes {lasts} and cannot start at {as_minutes(float(edit.to_seconds))}: "
                f"the routine lasts {whole}, and something else begins and ends it.",
            )
        )
    reason = limits.place_reason(picked.technique, picked.frame, picked.craft, start, end)
    if reason is not None:
        return Refused((reason,))
    target = Target(picked.routine)
    target.vacate(group.start_bar, group.end_bar)
    target.lay(start, [(p, p.bars) for p in group.passages])
    first = start + picked.passage.start_bar - group.start_bar
    at_seconds = edit.to_seconds if picked.passage is group.first else picked.seconds_at(first)
    keep = replace(
        picked.insisted(),
        at_seconds=at_seconds,
        minutes=picked.minutes_of(picked.passage.bars),
    )
    request = _request(picked, target, picked.brief_with(keep), start, Aspect.START)

    def is_met(new: Routine) -> bool:
        """It is no longer done where it was."""
        return not any(
            passage.technique == picked.passage.technique
            and passage.role is not Role.REFRAIN
            and abs(passage.start_bar - picked.passage.start_bar) <= 1
            and abs(passage.start_bar - start) > abs(passage.start_bar - group.start_bar)
            for passage in new.line
        )

    return replace(request, is_met=is_met)


def _swapped(picked: Picked, edit: Swap) -> Request | Refused:
    if picked.is_rest:
        return _of_rest(picked)
    frame, craft, group = picked.frame, picked.craft, picked.group
    reason = swap_reason(edit.technique, picked.passage.technique, craft)
    if reason is not None:
        return Refused((reason,))
    technique = craft.technique(edit.technique)
    blocked = limits.place_reason(technique, frame, craft, group.start_bar, group.end_bar)
    if blocked is None and picked.is_first and technique.lateral:
        blocked = f"The routine begins for both sides at once, and {technique.plain} is one-sided."
    if blocked is not None:
        return Refused((blocked,))
    return _filled(picked, technique, picked.brief)


def swap_reason(id: str, now: str | None, craft: Craft) -> str | None:
    """Return why a technique cannot take the place of another, whatever the place."""
    if not craft.has_technique(id):
        return limits.unknown_technique(id, craft)
    technique = craft.technique(id)
    if technique.helps_turn:
        return f"{technique.plain} only helps the receiver to turn over; choose another."
    if id == now:
        return f"{technique.plain} is what is done here; name another technique."
    return None


def _filled(picked: Picked, technique: Technique, brief: Brief) -> Request | Refused:
    """Another technique on the bars of what was picked."""
    frame, craft, group = picked.frame, picked.craft, picked.group
    places = sides.sides(technique, craft)
    able = limits.pressures_of(technique, frame, craft)
    role = group.first.role if not group.is_open else Role.WORK
    bounds = limits.bars_allowed(frame, role)
    wanted = min(max(group.bars // len(places), bounds[0]), bounds[1])
    bars = limits.fitting_bars(technique, frame, wanted, bounds)
    if bars is None:
        return Refused((limits.length_reason(technique, wanted, bounds, frame),))
    was = picked.passage.pressure
    pressure = min(able, key=lambda p: (abs(p - was), p), default=was)
    like = replace(picked.passage, technique=technique.id, pressure=pressure, role=role)
    target = Target(picked.routine)
    target.vacate(group.start_bar, group.end_bar)
    target.lay(group.start_bar, [(replace(like, side=side), bars) for side in places])
    keep = Keep(
        technique=technique.id,
        at_seconds=picked.seconds_at(group.start_bar),
        minutes=picked.minutes_of(bars),
    )
    start = group.start_bar
    changed = replace(picked.brief_with(keep), open_minutes=brief.open_minutes)
    return replace(_request(picked, target, changed, start), technique=technique.id)


def _begun(picked: Picked, edit: Begin) -> Request | Refused:
    now, technique = picked.group.first.side, picked.technique
    if not technique.lateral or not picked.group.is_pair:
        return Refused(
            (f"{picked.name} is done {ON_SIDE_SAYS[now]}, so there is no other side to begin on.",)
        )
    side = edit.side or now.other
    if not side.is_one_sided:
        return Refused((f"{picked.name} is done on each side in turn; choose left or right.",))
    if side is now:
        return Refused((f"{picked.name} begins {ON_SIDE_SAYS[now]} already.",))
    target = Target(picked.routine)
    row = [(replace(p, side=p.side.other), p.bars) for p in picked.group.passages]
    target.lay(picked.group.start_bar, row)
    keep = replace(
        picked.insisted(),
        at_seconds=picked.seconds_at(picked.passage.start_bar),
        minutes=picked.minutes_of(picked.passage.bars),
        side=side,
    )
    start = picked.group.start_bar
    return _request(picked, target, picked.brief_with(keep), start, Aspect.SIDE)


def _pressed(picked: Picked, edit: Press) -> Request | Refused:
    if picked.is_rest:
        return _of_rest(picked)
    technique, frame, group = picked.technique, picked.frame, picked.group
    if edit.pressure == picked.passage.pressure:
        return Refused((f"{picked.name} is at pressure {edit.pressure} here already.",))
    reason = limits.pressure_reason(technique, edit.pressure, frame, picked.craft)
    light = replace(technique, pressure=(edit.pressure, max(edit.pressure, technique.pressure[1])))
    reason = reason or limits.place_reason(
        light, frame, picked.craft, group.start_bar, group.end_bar
    )
    if reason is not None:
        return Refused((reason,))
    target = Target(picked.routine)
    row = []
    for p in group.passages:
        is_same = p.technique == picked.passage.technique and p.role is picked.passage.role
        row.append((replace(p, pressure=edit.pressure) if is_same else p, p.bars))
    target.lay(group.start_bar, row)
    keep = replace(
        picked.insisted(),
        at_seconds=picked.seconds_at(picked.passage.start_bar),
        minutes=picked.minutes_of(picked.passage.bars),
        pressure=edit.pressure,
    )
    return _request(picked, target, picked.brief_with(keep), group.start_bar, Aspect.PRESSURE)


def _insisted(picked: Picked) -> Request | Refused:
    passage = picked.passage
    keep = Keep(
        technique=picked.technique.id,
        at_seconds=picked.seconds_at(passage.start_bar),
        minutes=picked.minutes_of(passage.bars),
        side=passage.side if picked.technique.lateral else None,
        pressure=passage.pressure,
    )
    if picked.keep is not None and picked.brief.keep[picked.keep] == keep:
        return Refused((f"You insist on {picked.name} as it is already.",))
    says = f"{INSISTS} at {as_minutes(float(picked.seconds_at(passage.start_bar)))}."
    return _settled(picked, picked.brief_with(keep), is_kept=True, says=(says,))


def _freed(picked: Picked) -> Request | Refused:
    if picked.keep is None:
        return Refused((f"{picked.name} is not insisted on here, so there is nothing to free.",))
    return _settled(picked, picked.brief_with(None), is_kept=False, says=())


def _settled(picked: Picked, brief: Brief, *, is_kept: bool, says: tuple[str, ...]) -> Request:
    """Return the routine as it is, marked otherwise; nothing has to be planned."""

    def marked(passage: Passage) -> Passage:
        is_of_it = any(p.id == passage.id for p in picked.group.passages)
        if not is_of_it or passage.technique != picked.passage.technique:
            return passage
        whys = tuple(why for why in passage.why if not why.startswith(INSISTS))
        told = says if passage.id == picked.passage.id else ()
        return replace(passage, kept=is_kept, why=(*told, *whys))

    routine = picked.routine
    passages = tuple(marked(p) for p in routine.passages)
    settled = replace(routine, passages=passages, brief=brief)
    request = _request(picked, Target(routine), brief, picked.group.start_bar)
    return replace(request, settled=settled)


def _left_open(picked: Picked) -> Request | Refused:
    frame, group = picked.frame, picked.group
    least = open_bars.least_bars(frame)
    if group.start_bar < opening.first_free_bar(frame):
        until = as_minutes(float(picked.seconds_at(opening.first_free_bar(frame))))
        return Refused((f"Nothing is left free in the quiet opening, which lasts until {until}.",))
    if picked.is_last:
        return Refused((f"The routine must end with hands at rest; here with {picked.name}.",))
    if group.bars < least:
        return Refused(
            (
                f"{picked.name} takes {limits.seconds_says(frame, group.bars)}, and bars left free "
                f"last at least {limits.seconds_says(frame, least)}; lengthen it first.",
            )
        )
    free = replace(group.first, technique=None, role=Role.OPEN, side=Side.BOTH, pressure=2)
    target = Target(picked.routine)
    target.lay(group.start_bar, [(free, group.bars)])
    brief = picked.brief_with(None, open_minutes=_open_minutes(picked, group.bars))
    return _opened(picked, target, brief, group.start_bar, group.bars)


def _open_minutes(picked: Picked, more_bars: int) -> Fraction:
    """Return the minutes left free with so many bars more (or fewer)."""
    there = sum(p.bars for p in picked.routine.line if p.is_open)
    return picked.minutes_of(there + more_bars)


def _opened(picked: Picked, target: Target, brief: Brief, start: int, bars: int) -> Request:
    """Return the request for `bars` left free from `start` on."""

    def is_met(new: Routine) -> bool:
        return any(
            p.is_open and abs(p.start_bar - start) <= 1 and abs(p.bars - bars) <= 1
            for p in new.line
        )

    request = _request(picked, target, brief, start, Aspect.START, Aspect.LENGTH)
    return replace(request, technique=None, is_met=is_met)


def _for_open(picked: Picked, edit: Edit) -> Request | Refused:
    """An edit of bars that are left free."""
    frame, group = picked.frame, picked.group
    target = Target(picked.routine)
    target.vacate(group.start_bar, group.end_bar)
    match edit:
        case Lengthen() | Shorten():
            least = open_bars.least_bars(frame)
            by = bars_for(edit, frame, group.bars - least)
            bars = group.bars + (by if isinstance(edit, Lengthen) else -by)
            if bars < least:
                says = f"Bars left free last at least {limits.seconds_says(frame, least)}."
                return Refused((says,))
            start = group.start_bar if _gives_at_end(picked) else group.end_bar - bars
            target.lay(start, [(group.first, bars)])
            brief = picked.brief_with(None, open_minutes=_open_minutes(picked, bars - group.bars))
            return _opened(picked, target, brief, start, bars)
        case Move():
            start = round(edit.to_seconds / frame.bar_seconds)
            if not opening.first_free_bar(frame) <= start < picked.routine.bars - group.bars:
                return Refused(
                    ("Bars left free stand between the quiet opening and the last passage.",)
                )
            target.lay(start, [(group.first, group.bars)])
            return _opened(picked, target, picked.brief, start, group.bars)
        case Swap():
            reason = swap_reason(edit.technique, None, picked.craft)
            if reason is not None:
                return Refused((reason,))
            brief = replace(picked.brief, open_minutes=_open_minutes(picked, -group.bars))
            return _filled(picked, picked.craft.technique(edit.technique), brief)
        case Free():
            brief = replace(picked.brief, open_minutes=_open_minutes(picked, -group.bars))
            return _request(picked, target, brief, group.start_bar)
        case LeaveOpen():
            return Refused(("These bars are left free already.",))
    return Refused(
        (
            "These bars are left free, and the two fill them as they like; put a technique in "
            "their place first.",
        )
    )


def _request(picked: Picked, target: Target, brief: Brief, start: int, *aspects: Aspect) -> Request:
    routine = picked.routine
    return Request(
        brief=brief,
        target=target.routine(),
        home=home_in(routine),
        old_bar=picked.group.start_bar,
        new_bar=start,
        technique=picked.passage.technique,
        aspects=frozenset(aspects),
    )


def home_in(routine: Routine) -> Home:
    """Return the refrain of `routine`."""
    returns = routine.refrains
    return tuple((p.technique, p.pressure, p.bars) for p in returns[0]) if returns else ()
