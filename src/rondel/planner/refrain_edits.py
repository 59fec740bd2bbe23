"""Edits of the refrain: they hold for every return, since the refrain stays itself."""

from __future__ import annotations

from dataclasses import replace

from rondel.model.brief import Keep
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage
from rondel.planner.constraints import level, refrain_same, sides
from rondel.planner.edit_limits import fitting_bars, pressure_reason, pressures_of, seconds_says
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
from rondel.planner.layouts import Layout, Row, Slot, slot_of
from rondel.planner.material import is_allowed, material_of
from rondel.planner.moved import Aspect
from rondel.planner.nearness import home_in
from rondel.planner.reasons import reasons_against
from rondel.planner.refrains import refrain_rows
from rondel.planner.requests import Picked, Refused, Request, bars_for, no, swap_reason
from rondel.planner.targets import Target
from rondel.rules.refrain_same import MAX_PRESSURE


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
    return no(says)


def _is_picked(picked: Picked, passage: Passage) -> bool:
    """True for what the edit speaks of, on either side."""
    return passage.technique == picked.passage.technique


def _resized(picked: Picked, edit: Lengthen | Shorten) -> Request | Refused:
    """A change of length; the rest of the row stays, or makes up for it."""
    frame, technique, now = picked.frame, picked.technique, picked.passage.bars
    is_longer = isinstance(edit, Lengthen)
    by = bars_for(edit, frame, frame.home[1])
    able = (now + 1, frame.home[1]) if is_longer else (1, now - 1)
    wanted = now + by if is_longer else now - by
    bars = fitting_bars(technique, frame, wanted, able)
    is_less = edit.seconds is not None and not able[0] <= wanted <= able[1]  # than was asked for
    rows = [] if bars is None or is_less else _rows_with(picked, bars)
    if rows:
        return _request(picked, rows)
    low, high = (seconds_says(frame, n) for n in frame.home)
    word = "longer" if is_longer else "shorter"
    return no(
        f"One return of the refrain lasts {seconds_says(frame, picked.group.bars)} here, and may "
        f"last {low} to {high}; {picked.name} cannot be that much {word} in it."
    )


def _rows_with(picked: Picked, bars: int) -> list[Row]:
    """Return the row with `bars` for what was picked: as long as it was, else longer or shorter."""
    passages = picked.group.passages
    low, high = picked.frame.home
    row = tuple((p, bars if _is_picked(picked, p) else p.bars) for p in passages)
    over = sum(n for _, n in row) - picked.group.bars
    others = [i for i, p in enumerate(passages) if not _is_picked(picked, p)]
    rows = []
    if others and row[others[-1]][1] > over:
        last = others[-1]
        rows.append(tuple((p, n - over if i == last else n) for i, (p, n) in enumerate(row)))
    return [r for r in (row, *rows) if low <= sum(n for _, n in r) <= high]


def _swapped(picked: Picked, edit: Swap) -> Request | Refused:
    frame, craft = picked.frame, picked.craft
    reason = swap_reason(edit.technique, picked.passage.technique, craft)
    if reason is not None:
        return no(reason)
    technique = craft.technique(edit.technique)
    if not technique.family.is_held and _is_only_hold(picked):
        return no(
            f"A hold or an embrace belongs in the refrain, and {picked.name} is the one that is "
            "there; choose another hold or embrace."
        )
    ruled_out = _ruled_out(picked, technique)
    if ruled_out:
        return no(*ruled_out)
    able = tuple(p for p in pressures_of(technique, frame, craft) if refrain_same.allows(p))
    places = sides.sides(technique, craft)
    total = sum(p.bars for p in picked.group.passages if _is_picked(picked, p))
    bars = fitting_bars(technique, frame, max(1, total // len(places)), (1, frame.home[1]))
    if not able or bars is None:
        return no(
            f"{technique.plain} cannot take the place of {picked.name} in the refrain, which stays "
            f"at pressure {MAX_PRESSURE} or less and short; choose a light glide, a hold or an "
            "embrace."
        )
    was = picked.passage.pressure
    rows = []
    for pressure in sorted(able, key=lambda p: (abs(p - was), p)):
        like = replace(picked.passage, technique=technique.id, pressure=pressure)
        laid = [(replace(like, side=side), bars) for side in places]
        others = [(p, p.bars) for p in picked.group.passages if not _is_picked(picked, p)]
        before = next(i for i, p in enumerate(picked.group.passages) if _is_picked(picked, p))
        rows.append((*others[:before], *laid, *others[before:]))
    return _request(picked, rows)


def _ruled_out(picked: Picked, technique: Technique) -> tuple[str, ...]:
    """Return what in the brief takes the technique away: the reasons why it could not be kept."""
    brief, craft = picked.brief, picked.craft
    if is_allowed(technique, brief, craft) and level.allows(technique, brief):
        return ()
    asked = replace(brief, keep=(Keep(technique=technique.id),), stretch=False)
    material = material_of(asked, craft)
    rows = refrain_rows(material, picked.frame)
    return reasons_against(asked, craft, material, picked.frame, rows)


def _is_only_hold(picked: Picked) -> bool:
    """True where without what was picked no hold or embrace were left in the row."""
    others = [p for p in picked.group.passages if not _is_picked(picked, p)]
    return not any(
        picked.craft.technique(p.technique).family.is_held for p in others if p.technique
    )


def _pressed(picked: Picked, edit: Press) -> Request | Refused:
    if edit.pressure == picked.passage.pressure:
        return no(f"{picked.name} is at pressure {edit.pressure} here already.")
    reason = pressure_reason(picked.technique, edit.pressure, picked.frame, picked.craft)
    if reason is None and not refrain_same.allows(edit.pressure):
        reason = f"The refrain stays at pressure {MAX_PRESSURE} or less; choose a lower one."
    if reason is not None:
        return no(reason)
    row = tuple(
        (replace(p, pressure=edit.pressure) if _is_picked(picked, p) else p, p.bars)
        for p in picked.group.passages
    )
    return _request(picked, [row])


def _request(picked: Picked, rows: list[Row]) -> Request:
    """Return the request for the first of `rows` in the place of every return; any will do."""
    routine, target = picked.routine, Target(picked.routine)
    for old in routine.refrains:
        target.vacate(old[0].start_bar, old[-1].end_bar)
        target.lay(old[0].start_bar, rows[0])
    layouts = tuple(
        Layout(
            slots=tuple(
                Slot(row=row) if g.is_refrain else slot_of(g, picked.frame) for g in picked.groups
            ),
            anchor=picked.place,
            start=picked.group.start_bar,
        )
        for row in rows
    )
    homes = [tuple((p.technique, p.pressure, n) for p, n in row) for row in rows]
    return Request(
        brief=picked.brief,
        target=target.routine(),
        home=homes[0],
        old_bar=picked.group.start_bar,
        new_bar=picked.group.start_bar,
        technique=rows[0][0][0].technique,
        aspects=frozenset((Aspect.ROW,)),
        layouts=layouts,
        is_met=lambda new: home_in(new) in homes,
    )
