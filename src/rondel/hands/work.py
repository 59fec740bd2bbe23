"""What the giver's hands do in a passage: which of them, how strongly, how often, how long.

The numbers here are our own choices (docs/decisions/0008-hand-load.md); nobody measured them.
"""

from __future__ import annotations

from enum import StrEnum

from rondel.hands.strain import Task
from rondel.model.repertoire import Technique
from rondel.model.words import Contact, Family, Position, Side, Trace


class Hand(StrEnum):
    """The giver's, not the receiver's."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def other(self) -> Hand:
        return Hand.RIGHT if self is Hand.LEFT else Hand.LEFT


BOTH = (Hand.LEFT, Hand.RIGHT)

#: Pressure 0 to 5 as a share of the strongest that a giver can do (our choice, on record).
EFFORT = {0: 0.05, 1: 0.10, 2: 0.20, 3: 0.30, 4: 0.45, 5: 0.60}

#: Of a stroke, the share in which one hand works: hand after hand, each has half of it, and a
#: struck hand is in the air for half of it (our choice, on record).
HALF = 0.5

#: Regions in whose middle one hand has room enough.
_ONE_IN_THE_MIDDLE = ("sacrum", "belly")
#: Where the giver sits opposite to the receiver, so that the hand for their left is the right one.
_OPPOSITE = {
    Position.SEATED: ("upper_arms", "forearms", "hands", "feet"),
    Position.SIDE: ("hands", "feet"),
}
_FROM_THE_HEAD = ("shoulders", "neck", "scalp", "face")


def is_two_handed(technique: Technique, side: Side) -> bool:
    """True where both hands work: on both sides, hand after hand, wrapping, or by handfuls."""
    if not side.is_one_sided:
        return technique.region not in _ONE_IN_THE_MIDDLE
    is_by_handfuls = (
        technique.family is Family.KNEADING
        and technique.trace is Trace.CIRCLE
        and technique.contact is Contact.PALM
    )
    return technique.trace in (Trace.ALTERNATE, Trace.WRAP) or is_by_handfuls


def hands_at_work(technique: Technique, side: Side, position: Position) -> tuple[Hand, ...]:
    """Return the giver's hands that do `technique`: the ones that the figure shows.

    A single hand is the one on that side of the receiver; in the middle it is the right one.
    """
    if is_two_handed(technique, side):
        return BOTH
    if not side.is_one_sided:
        return (Hand.RIGHT,)
    near = Hand.LEFT if side is Side.LEFT else Hand.RIGHT
    return (near.other,) if _is_opposite(technique.region, position) else (near,)


def _is_opposite(region: str, position: Position) -> bool:
    if position is Position.SUPINE:
        return region not in _FROM_THE_HEAD
    return region in _OPPOSITE.get(position, ())


def task_of(technique: Technique, side: Side, pressure: int, stroke_seconds: float) -> Task:
    """Return what each hand at work does, wrists straight, while strokes of this length go on."""
    by_turns = technique.is_alternating or (
        technique.family is Family.KNEADING and side.is_one_sided and is_two_handed(technique, side)
    )
    is_half = by_turns or technique.family is Family.PERCUSSION
    return Task(
        effort=EFFORT[pressure],
        per_minute=60 / stroke_seconds,
        seconds=stroke_seconds * (HALF if is_half else 1.0),
    )
