"""Edits of the refrain: they hold for every return, since the refrain stays itself."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from rondel.model.brief import Keep
from rondel.model.routine import Routine
from rondel.model.words import Side
from rondel.planner.constraints import refrain_same, sides
from rondel.planner.edit_limits import pressure_reason, seconds_says
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
from rondel.planner.material import material_of
from rondel.planner.moved import Aspect
from rondel.planner.reasons import reasons_against
from rondel.planner.refrains import Refrain, refrain_rows
from rondel.planner.requests import Home, Picked, Refused, Request, bars_for, home_in, swap_reason
from rondel.planner.targets import Target

#: One passage of a row: technique, pressure, bars.
Part = tuple[str | None, int, int]


def refrain_request_for(picked: Picked, edit: Edit) -> Request | Refused:
    """Return what to plan for an edit of the refrain, or why it cannot be."""
    match edit:
        case Lengthen() | Shorten():
            return _resized(picked, edit)
        case Swap():
            return _swapped(picked, edit)
        case Press():
            return _pressed(picked, edit)
        case Move():
            says = (
                "The returns of the refrain are spread over the whole; move what stands before or "
                "after one, and the refrain makes room. `refrains` in the brief says how often."
            )
        case Begin():
            says = "The refrain is the same each time and begins as it does."
        case Insist():
            says = "The refrain stays as it is in every change, as long as it can."
        case Free():
            says = "The refrain is not insisted on, so there is nothing to free."
        case LeaveOpen():
            says = (
                "The refrain is what keeps coming home and is not left free; fewer returns "
                "(`refrains` in the brief) leave more room."
            )
        case _:
            raise TypeError(f"{type(edit).__name__} is no edit")
    return Refused((says,))


def _place(picked: Picked) -> tuple[int, ...]:
    """Return the places in the row of what was picked: two where it is done on each side."""
    row = _row_of(picked)
    at = next(i for i, p in enumerate(row) if p == picked.passage.technique)
    return tuple(i for i, id in enumerate(row) if id == row[at])


def _row_of(picked: Picked) -> list[str | None]:
    return [p.technique for p in picked.group.passages]


def _resized(picked: Picked, edit: Lengthen | Shorten) -> Request | Refused:
    frame, home, at = picked.frame, home_in(picked.routine), _place(picked)
    by = bars_for(edit, frame, frame.home[1])
    is_longer = isinstance(edit, Lengthen)
    now = home[at[0]][2]
    wanted = now + by if is_longer else now - by

    def suits(row: Home) -> bool:
        return (row[at[0]][2] > now) if is_longer else (row[at[0]][2] < now)

    def distance(row: Home) -> int:
        others = sum(abs(a[2] - b[2]) for i, (a, b) in enumerate(zip(row, home, strict=True)))
        return 3 * abs(row[at[0]][2] - wanted) + others

    rows = [row for row in _rows(picked) if _same_hands(row, home) and suits(row)]
    if rows:
        return _request(picked, min(rows, key=distance), at)
    low, high = (seconds_says(frame, bars) for bars in frame.home)
    now_says = seconds_says(frame, picked.group.bars)
    return Refused(
        (
            f"One return of the refrain lasts {now_says} here, and it may last {low} to {high} in "
            f"whole phrases; {picked.name} cannot be {'longer' if is_longer else 'shorter'} in it.",
        )
    )


def _swapped(picked: Picked, edit: Swap) -> Request | Refused:
    reason = swap_reason(edit.technique, picked.passage.technique, picked.craft)
    if reason is not None:
        return Refused((reason,))
    home, at = home_in(picked.routine), _place(picked)
    technique = picked.craft.technique(edit.technique)
    others = [p[0] for i, p in enumerate(home) if i not in at]
    copies = len(sides.sides(technique, picked.craft))
    where = sum(p[0] in others for p in home[: at[0]])
    ids = [*others[:where], *[technique.id] * copies, *others[where:]]
    rows = [row for row in _rows(picked, technique.id) if [p[0] for p in row] == ids]
    if rows:
        total = sum(p[2] for p in home)
        row = min(rows, key=lambda r: (abs(sum(p[2] for p in r) - total), r))
        return _request(picked, row, at, edit.technique)
    brief = replace(picked.brief, keep=(Keep(technique=technique.id),))
    material = material_of(brief, picked.craft)
    out = reasons_against(
        brief, picked.craft, material, picked.frame, refrain_rows(material, picked.frame)
    )
    if out:
        return Refused(out)
    if picked.technique.family.is_held and not technique.family.is_held:
        says = (
            f"A hold or an embrace belongs in the refrain, and {picked.name} is the one that is "
            "there; choose another hold or embrace."
        )
        return Refused((says,))
    return Refused(
        (
            f"{technique.plain} cannot take the place of {picked.name} in the refrain: its strokes "
            "must be light, fill a return of the refrain, and be done as the receiver lies here. "
            "Choose a light glide, a hold or an embrace near by.",
        )
    )


def _pressed(picked: Picked, edit: Press) -> Request | Refused:
    home, at = home_in(picked.routine), _place(picked)
    if edit.pressure == picked.passage.pressure:
        return Refused((f"{picked.name} is at pressure {edit.pressure} here already.",))
    reason = pressure_reason(picked.technique, edit.pressure, picked.frame, picked.craft)
    if reason is None and not refrain_same.allows(edit.pressure):
        reason = "The refrain stays at pressure 2 or less; choose a lower one."
    if reason is not None:
        return Refused((reason,))
    rows = [
        row
        for row in _rows(picked)
        if [p[0] for p in row] == [p[0] for p in home] and row[at[0]][1] == edit.pressure
    ]
    if rows:
        row = min(rows, key=lambda r: (sum(a[2] != b[2] for a, b in zip(r, home, strict=True)), r))
        return _request(picked, row, at)
    return Refused(
        (
            f"No refrain was found with {picked.name} at pressure {edit.pressure}; leave it as it "
            "is, or do another technique in its place.",
        )
    )


def _same_hands(row: Home, home: Home) -> bool:
    return [p[:2] for p in row] == [p[:2] for p in home]


def _rows(picked: Picked, also: str | None = None) -> Iterable[Home]:
    """Return the refrains that the planner can make of the brief, as it is."""
    material = material_of(picked.brief, picked.craft)
    rows: tuple[Refrain, ...] = refrain_rows(material, picked.frame)
    for row in rows:
        parts = row.block.parts
        yield tuple((material.techniques[p.technique].id, p.pressure, p.bars) for p in parts)


def _request(
    picked: Picked, row: Home, at: tuple[int, ...], technique: str | None = None
) -> Request:
    """Return the request for `row` in the place of every return."""
    routine, target = picked.routine, Target(picked.routine)
    like = {p.technique: p for p in picked.group.passages}
    for old in routine.refrains:
        start, end = old[0].start_bar, old[-1].end_bar
        target.vacate(start, end)
        laid, seen = [], set[str | None]()
        for id, pressure, bars in row:
            model = like.get(id, picked.passage)
            side = model.side
            if id not in like and id is not None:
                places = sides.sides(picked.craft.technique(id), picked.craft)
                side = places[-1] if id in seen else places[0]
            elif id in seen and side is Side.LEFT:
                side = Side.RIGHT
            elif id is not None and picked.craft.technique(id).lateral:
                side = Side.RIGHT if id in seen else Side.LEFT
            seen.add(id)
            laid.append((replace(model, technique=id, pressure=pressure, side=side), bars))
        target.lay(start, laid)

    return Request(
        brief=picked.brief,
        target=target.routine(),
        home=row,
        old_bar=picked.group.start_bar,
        new_bar=picked.group.start_bar,
        technique=row[0][0],
        aspects=frozenset((Aspect.ROW,)),
        is_met=_has_row(row),
    )


def _has_row(row: Home) -> Callable[[Routine], bool]:
    return lambda new: home_in(new) == row
