"""Edits of work, arrival and close: what each asks for, or why it cannot be."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from rondel.model.brief import Brief, Keep
from rondel.model.names import ON_SIDE_SAYS
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage, Proof, Routine
from rondel.model.time import as_minutes
from rondel.model.words import DEEP, Role
from rondel.planner import edit_limits as limits
from rondel.planner.constraints import sides
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
from rondel.planner.layouts import Row
from rondel.planner.moved import Aspect
from rondel.planner.open_edits import left_open, open_request_for
from rondel.planner.requests import (
    Picked,
    Refused,
    Request,
    bars_for,
    gives_at_end,
    no,
    swap_reason,
)

#: How the reason of a passage begins that the teacher insists on.
INSISTS = "You insist on it"

#: A length insisted on may be a bar off. This share of a bar, added or taken away, leaves it the
#: bars asked for and one more (or one fewer), and not one that undoes the edit.
_NUDGE = Fraction(1, 8)


def request_for(picked: Picked, edit: Edit) -> Request | Refused:
    """Return what to plan for an edit of anything but the refrain, or why it cannot be."""
    if picked.group.is_turning:
        return no(
            "Here the receiver turns over. It comes with the change of position and cannot be "
            "changed by itself; `positions` in the brief tells how they may lie."
        )
    if picked.group.is_open:
        if isinstance(edit, Swap):
            return _fills_open(picked, edit)
        return open_request_for(picked, edit)
    if picked.is_rest and isinstance(edit, Lengthen | Shorten | Swap | Press):
        return no(
            f"This is the rest that answers {picked.name}, and it follows from it; change "
            f"{picked.name} instead."
        )
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
            return left_open(picked)
    raise TypeError(f"{type(edit).__name__} is no edit")


def _is_same(picked: Picked, passage: Passage) -> bool:
    """True for what the edit speaks of, on either side; not for a rest."""
    meant = picked.passage
    return passage.technique == meant.technique and passage.role is meant.role


def _as_it_was(picked: Picked) -> Row:
    """Return the passages of the group, what is meant marked as insisted on."""
    return tuple(
        (replace(p, kept=True) if p.technique == picked.passage.technique else p, p.bars)
        for p in picked.group.passages
    )


def _keep(picked: Picked, bar: int, bars: int, nudge: Fraction = Fraction(0)) -> Keep:
    """Return what is insisted on here, now from `bar` on, for `bars` on each side."""
    return replace(
        picked.insisted(),
        at_seconds=picked.seconds_at(bar),
        minutes=picked.minutes_of(bars, nudge),
    )


def _resized(picked: Picked, edit: Lengthen | Shorten) -> Request | Refused:
    """A change of length. It gives or takes at its end, or at its start where that is softer."""
    now, group, frame = picked.passage.bars, picked.group, picked.frame
    bounds = limits.bars_allowed(frame, group.first.role)
    is_longer = isinstance(edit, Lengthen)
    room = bounds[1] - now if is_longer else now - bounds[0]
    by = bars_for(edit, frame, room)
    able = (now + 1, bounds[1]) if is_longer else (bounds[0], now - 1)
    wanted = now + by if is_longer else now - by
    bars = limits.fitting_bars(picked.technique, frame, wanted, able)
    if room < 1 or bars is None or (edit.seconds is not None and by > room):
        return no(limits.length_reason(picked.technique, now, bounds, frame))
    deep = group.work_bars - now + bars
    row = tuple(
        (
            p,
            bars
            if _is_same(picked, p)
            else max(n, limits.rest_bars(frame, deep))
            if p.role is Role.REST
            else n,
        )
        for p, n in _as_it_was(picked)
    )
    total = sum(n for _, n in row)
    earlier = max(0, group.end_bar - total)
    blocked = limits.place_reason(picked.technique, frame, picked.craft, earlier, group.end_bar)
    is_at_end = gives_at_end(picked) or blocked is not None
    start = group.start_bar if is_at_end else earlier
    offset = picked.passage.start_bar - group.start_bar
    keep = _keep(picked, start + offset, bars, _NUDGE if is_longer else -_NUDGE)
    return picked.request(picked.brief_with(keep), start, [row], Aspect.LENGTH)


def _moved(picked: Picked, edit: Move) -> Request | Refused:
    group, name, frame = picked.group, picked.name, picked.frame
    if picked.is_first or picked.is_last:
        where, other = ("begins", "after") if picked.is_first else ("ends", "before")
        return no(
            f"The routine {where} with {name}, and something must stand there. Do another "
            f"technique in its place, or move what comes {other} it."
        )
    start = frame.nearest_bar(edit.to_seconds)
    end = start + group.bars
    if start == group.start_bar:
        return no(f"{name} starts at {as_minutes(float(picked.seconds_at(start)))} already.")
    if start <= 0 or end >= picked.routine.bars:
        whole = as_minutes(float(frame.total_seconds))
        return no(
            f"{name} takes {limits.seconds_says(frame, group.bars)} and cannot start at "
            f"{as_minutes(float(edit.to_seconds))}: the routine lasts {whole}, and something else "
            "begins and ends it."
        )
    reason = limits.place_reason(picked.technique, frame, picked.craft, start, end)
    if reason is not None:
        return no(reason)
    offset = picked.passage.start_bar - group.start_bar
    keep = _keep(picked, start + offset, picked.passage.bars)
    if not offset:
        keep = replace(keep, at_seconds=edit.to_seconds)
    brief = picked.brief_with(keep)
    others = [i for i in range(1, len(picked.groups) - 1) if i != picked.place]
    row = _as_it_was(picked)
    request = picked.request(brief, start, [row], Aspect.START, order=others)
    return replace(request, is_met=lambda new: not _lingers(picked, start, new))


def _lingers(picked: Picked, start: int, new: Routine) -> bool:
    """True where what should start at bar `start` is still done where it was as well."""
    was = picked.passage
    return any(
        p.technique == was.technique
        and p.role is not Role.REFRAIN
        and abs(p.start_bar - was.start_bar) <= 1
        and abs(p.start_bar - start) > abs(p.start_bar - was.start_bar)
        for p in new.line
    )


def _swapped(picked: Picked, edit: Swap) -> Request | Refused:
    frame, craft, group = picked.frame, picked.craft, picked.group
    reason = swap_reason(edit.technique, picked.passage.technique, craft)
    if reason is not None:
        return no(reason)
    technique = craft.technique(edit.technique)
    blocked = limits.place_reason(technique, frame, craft, group.start_bar, group.end_bar)
    if blocked is None and picked.is_first and technique.lateral:
        blocked = f"The routine begins for both sides at once, and {technique.plain} is one-sided."
    if blocked is not None:
        return no(blocked)
    return _filled(picked, technique, picked.brief)


def _fills_open(picked: Picked, edit: Swap) -> Request | Refused:
    reason = swap_reason(edit.technique, None, picked.craft)
    if reason is not None:
        return no(reason)
    there = sum(p.bars for p in picked.routine.line if p.is_open)
    brief = replace(picked.brief, open_minutes=picked.minutes_of(there - picked.group.bars))
    return _filled(picked, picked.craft.technique(edit.technique), brief)


def _filled(picked: Picked, technique: Technique, brief: Brief) -> Request | Refused:
    """Another technique on the bars of what was picked, at about the same pressure."""
    frame, craft, group = picked.frame, picked.craft, picked.group
    places = sides.sides(technique, craft)
    role = group.first.role if not group.is_open else Role.WORK
    bounds = limits.bars_allowed(frame, role)
    wanted = min(max(group.bars // len(places), bounds[0]), bounds[1])
    bars = limits.fitting_bars(technique, frame, wanted, bounds)
    if bars is None:
        return no(limits.length_reason(technique, wanted, bounds, frame))
    was = picked.passage.pressure
    able = limits.pressures_of(technique, frame, craft) or (was,)
    rows = []
    for pressure in sorted(able, key=lambda p: (abs(p - was), p)):
        like = replace(
            picked.passage, technique=technique.id, pressure=pressure, role=role, kept=True
        )
        rows.append(tuple((replace(like, side=side), bars) for side in places))
    keep = Keep(
        technique=technique.id,
        at_seconds=picked.seconds_at(group.start_bar),
        minutes=picked.minutes_of(bars),
    )
    changed = replace(picked.brief_with(keep), open_minutes=brief.open_minutes)
    return picked.request(changed, group.start_bar, rows)


def _begun(picked: Picked, edit: Begin) -> Request | Refused:
    now, group = picked.group.first.side, picked.group
    if not picked.technique.lateral or not group.is_pair:
        return no(f"{picked.name} is done {ON_SIDE_SAYS[now]}, so no side comes first.")
    side = edit.side or now.other
    if not side.is_one_sided:
        return no(f"{picked.name} is done on each side in turn; choose left or right.")
    if side is now:
        return no(f"{picked.name} begins {ON_SIDE_SAYS[now]} already.")
    row = tuple((replace(p, side=p.side.other), n) for p, n in _as_it_was(picked))
    keep = replace(_keep(picked, picked.passage.start_bar, picked.passage.bars), side=side)
    return picked.request(picked.brief_with(keep), group.start_bar, [row], Aspect.SIDE)


def _pressed(picked: Picked, edit: Press) -> Request | Refused:
    technique, frame, group = picked.technique, picked.frame, picked.group
    if edit.pressure == picked.passage.pressure:
        return no(f"{picked.name} is at pressure {edit.pressure} here already.")
    reason = limits.pressure_reason(technique, edit.pressure, frame, picked.craft)
    high = max(edit.pressure, technique.pressure[1])
    firm = replace(technique, pressure=(edit.pressure, high))
    reason = reason or limits.place_reason(
        firm, frame, picked.craft, group.start_bar, group.end_bar
    )
    if reason is not None:
        return no(reason)
    row = tuple(
        (replace(p, pressure=edit.pressure) if _is_same(picked, p) else p, n)
        for p, n in _as_it_was(picked)
    )
    keep = replace(
        _keep(picked, picked.passage.start_bar, picked.passage.bars), pressure=edit.pressure
    )
    rows = [row]
    if group.is_deep and edit.pressure < DEEP:
        rows.append(tuple((p, n) for p, n in row if p.role is not Role.REST))
    return picked.request(picked.brief_with(keep), group.start_bar, rows, Aspect.PRESSURE)


def _insisted(picked: Picked) -> Request | Refused:
    passage = picked.passage
    keep = Keep(
        technique=picked.technique.id,
        at_seconds=picked.seconds_at(passage.start_bar),
        minutes=picked.minutes_of(passage.bars),
        side=passage.side if picked.technique.lateral else None,
        pressure=passage.pressure,
    )
    if picked.keep is not None and _are_same(picked.brief.keep[picked.keep], keep, picked):
        return no(f"You insist on {picked.name} as it is already.")
    says = f"{INSISTS} at {as_minutes(float(picked.seconds_at(passage.start_bar)))}."
    return _settled(picked, picked.brief_with(keep), is_kept=True, says=(says,))


def _are_same(one: Keep, other: Keep, picked: Picked) -> bool:
    """True for keeps of the same hands at the same bars: read from a file, times are rounded."""

    def parts(keep: Keep) -> tuple[object, ...]:
        at, minutes = keep.at_seconds, keep.minutes
        start = None if at is None else picked.frame.nearest_bar(at)
        bars = None if minutes is None else round(minutes * 60 / picked.frame.bar_seconds)
        return keep.technique, start, bars, keep.side, keep.pressure

    return parts(one) == parts(other)


def _freed(picked: Picked) -> Request | Refused:
    if picked.keep is None:
        return no(f"{picked.name} is not insisted on here, so there is nothing to free.")
    return _settled(picked, picked.brief_with(None), is_kept=False, says=())


def _settled(picked: Picked, brief: Brief, *, is_kept: bool, says: Iterable[str]) -> Request:
    """Return the routine as it is, marked otherwise; nothing has to be planned."""

    def marked(passage: Passage) -> Passage:
        is_of_it = any(p.id == passage.id for p in picked.group.passages)
        if not is_of_it or passage.technique != picked.passage.technique:
            return passage
        whys = tuple(why for why in passage.why if not why.startswith(INSISTS))
        told = tuple(says) if passage.id == picked.passage.id else ()
        return replace(passage, kept=is_kept, why=(*told, *whys))

    routine, group = picked.routine, picked.group
    settled = replace(routine, passages=tuple(map(marked, routine.passages)), brief=brief)
    was = None if picked.keep is None else picked.brief.keep[picked.keep]
    is_elsewhere = was is not None and (was.at_seconds, was.minutes) != (None, None)
    if (not is_kept or is_elsewhere) and routine.proof.status != "found":
        # Of what is asked for less, or elsewhere, other plans can be made: nothing is proved then.
        settled = replace(settled, proof=Proof(objective=routine.proof.objective))
    row = tuple((p, p.bars) for p in group.passages)
    return replace(picked.request(brief, group.start_bar, [row]), settled=settled)
