"""Bars left free: leaving them so, and every edit of such bars but filling them."""

from __future__ import annotations

from dataclasses import replace

from rondel.model.brief import Brief
from rondel.model.routine import Routine
from rondel.model.words import Role, Side
from rondel.planner import edit_limits as limits
from rondel.planner.constraints import open as open_bars
from rondel.planner.constraints import opening
from rondel.planner.edits import Edit, Free, LeaveOpen, Lengthen, Move, Shorten
from rondel.planner.layouts import Row
from rondel.planner.moved import Aspect
from rondel.planner.requests import Picked, Refused, Request, bars_for, gives_at_end, no


def left_open(picked: Picked) -> Request | Refused:
    """Return the request to leave the bars of what was picked free."""
    frame, group = picked.frame, picked.group
    least = open_bars.least_bars(frame)
    if group.start_bar < opening.first_free_bar(frame):
        until = limits.opening_ends(frame)
        return no(f"Nothing is left free in the quiet opening, which lasts until {until}.")
    if picked.is_last:
        return no(f"The routine must end with hands at rest; here with {picked.name}.")
    if group.bars < least:
        return no(
            f"{picked.name} takes {limits.seconds_says(frame, group.bars)}, and bars left free "
            f"last at least {limits.seconds_says(frame, least)}; lengthen it first."
        )
    free = replace(
        group.first,
        technique=None,
        role=Role.OPEN,
        side=Side.BOTH,
        pressure=2,
        kept=False,
        stretch=False,
    )
    brief = _with_open_bars(picked, picked.brief_with(None), group.bars)
    return _opened(picked, brief, group.start_bar, ((free, group.bars),))


def open_request_for(picked: Picked, edit: Edit) -> Request | Refused:
    """Return what to plan for an edit of bars that are left free, or why it cannot be."""
    group = picked.group
    match edit:
        case Lengthen() | Shorten():
            return _resized(picked, edit)
        case Move():
            return _moved(picked, edit)
        case Free():
            brief = _with_open_bars(picked, picked.brief, -group.bars)
            request = picked.request(brief, group.start_bar, [()])
            return replace(request, layouts=())
        case LeaveOpen():
            return no("These bars are left free already.")
    return no(
        "These bars are left free, and the two fill them as they like; put a technique in their "
        "place first."
    )


def _with_open_bars(picked: Picked, brief: Brief, more: int) -> Brief:
    """Return `brief` with so many bars more (or fewer) left free than there are now."""
    there = sum(p.bars for p in picked.routine.line if p.is_open)
    return replace(brief, open_minutes=picked.minutes_of(there + more))


def _resized(picked: Picked, edit: Lengthen | Shorten) -> Request | Refused:
    frame, group = picked.frame, picked.group
    least = open_bars.least_bars(frame)
    by = bars_for(
        edit, frame, group.bars - least if isinstance(edit, Shorten) else picked.routine.bars
    )
    bars = group.bars + (by if isinstance(edit, Lengthen) else -by)
    if bars < least:
        return no(f"Bars left free last at least {limits.seconds_says(frame, least)}.")
    start = group.start_bar if gives_at_end(picked) else group.end_bar - bars
    if start < opening.first_free_bar(frame) or start + bars >= picked.routine.bars:
        return no("There is no room for that between the quiet opening and the last passage.")
    brief = _with_open_bars(picked, picked.brief, bars - group.bars)
    return _opened(picked, brief, start, ((group.first, bars),))


def _moved(picked: Picked, edit: Move) -> Request | Refused:
    frame, group = picked.frame, picked.group
    start = frame.nearest_bar(edit.to_seconds)
    if not opening.first_free_bar(frame) <= start < picked.routine.bars - group.bars:
        return no("Bars left free stand between the quiet opening and the last passage.")
    if start == group.start_bar:
        return no("These bars start there already.")
    others = tuple(i for i in range(1, len(picked.groups) - 1) if i != picked.place)
    request = _opened(picked, picked.brief, start, ((group.first, group.bars),), others)

    def is_met(new: Routine) -> bool:
        bar = float(frame.bar_seconds)
        starts = (new.start_seconds(p) for p in new.line if p.is_open and p.bars == group.bars)
        return any(abs(at - float(edit.to_seconds)) <= bar + 0.01 for at in starts)

    return replace(request, is_met=is_met)


def _opened(
    picked: Picked, brief: Brief, start: int, row: Row, order: tuple[int, ...] = ()
) -> Request:
    """Return the request for the bars of `row` left free from `start` on."""
    bars = sum(n for _, n in row)

    def is_met(new: Routine) -> bool:
        return any(
            p.is_open and abs(p.start_bar - start) <= 1 and abs(p.bars - bars) <= 1
            for p in new.line
        )

    request = picked.request(brief, start, [row], Aspect.START, Aspect.LENGTH, order=order)
    return replace(request, is_met=is_met)
