"""Random edits of a routine, as a teacher might ask for them: the same for the same seed."""

from __future__ import annotations

import random
from fractions import Fraction

from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Role, Side
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

KINDS = (Lengthen, Shorten, Move, Swap, Begin, Press, Insist, Free, LeaveOpen)


def random_edit(seed: int, routine: Routine, craft: Craft) -> Edit:
    """Return an edit of any passage: lengths and places near by, techniques of the same place."""
    dice = random.Random(seed)
    passage = dice.choice(routine.line)
    kind = dice.choice(KINDS)
    seconds = dice.choice([None, None, Fraction(8), Fraction(16), Fraction(30)])
    if kind in (Lengthen, Shorten):
        return kind(passage=passage.id, seconds=seconds)
    if kind is Move:
        by = dice.choice([-90, -60, -30, -16, -8, 8, 16, 30, 60, 90])
        at = max(0, round(routine.start_seconds(passage)) + by)
        return Move(passage=passage.id, to_seconds=Fraction(at))
    if kind is Swap:
        return Swap(passage=passage.id, technique=_other(dice, passage.technique, craft))
    if kind is Begin:
        return Begin(passage=passage.id, side=dice.choice([None, None, Side.LEFT, Side.RIGHT]))
    if kind is Press:
        step = dice.choice([-1, 1])
        return Press(passage=passage.id, pressure=min(5, max(0, passage.pressure + step)))
    plain: tuple[type[Insist | Free | LeaveOpen], ...] = (Insist, Free, LeaveOpen)
    return next(k for k in plain if k is kind)(passage=passage.id)


def sensible_edit(seed: int, routine: Routine, craft: Craft) -> Edit:
    """Return an edit that needs planning, of work that a teacher is likely to change."""
    dice = random.Random(seed)
    for _ in range(100):
        edit = random_edit(dice.randrange(1 << 30), routine, craft)
        passage = next(p for p in routine.line if p.id == edit.passage)
        if passage.role in (Role.WORK, Role.PEAK) and not isinstance(edit, Insist | Free):
            return edit
    raise AssertionError("a routine has work in it")


def _other(dice: random.Random, now: str | None, craft: Craft) -> str:
    able = [t for t in craft.techniques if not t.helps_turn and t.id != now]
    if now is not None and dice.random() < 0.7:
        region = craft.technique(now).region
        near = [t for t in able if craft.are_neighbours(t.region, region)]
        able = near or able
    return dice.choice(able).id
