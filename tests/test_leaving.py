"""The stroke from which hands leave lands as they leave, and no other one moves."""

from __future__ import annotations

from rondel.model.take import MotionKind
from rondel.watching.leaving import landed_as_they_left
from rondel.watching.stretch import Read


def read(
    kind: MotionKind, landings: tuple[float, ...], pauses: tuple[tuple[float, float], ...] = ()
) -> Read:
    eighths = tuple(n / 4 for n in range(80)) if kind is MotionKind.CIRCLE else ()
    return Read(
        kind=kind,
        start=0.0,
        end=20.0,
        landings=landings,
        slips=(),
        pauses=pauses,
        period=2.0,
        strength=9.0,
        eighths=eighths,
    )


def test_a_glide_lands_as_hands_leave_and_others_stay() -> None:
    one = read(MotionKind.GLIDE, (4.0, 6.0, 7.8, 14.0), ((7.8, 12.0),))
    told = landed_as_they_left(one, ((8.0, 12.0),))
    assert told.landings == (4.0, 6.0, 8.0, 14.0)
    assert told.pauses == ((8.0, 12.0),)


def test_hands_that_rest_before_they_leave_landed_where_they_came_to_rest() -> None:
    one = read(MotionKind.PRESS, (4.0, 7.2, 14.0))
    assert landed_as_they_left(one, ((8.0, 12.0),)).landings == (4.0, 7.2, 14.0)


def test_what_goes_round_rests_from_where_hands_leave() -> None:
    one = read(MotionKind.CIRCLE, (2.0, 4.0, 6.0), ((5.9, 10.0),))
    told = landed_as_they_left(one, ((6.1, 10.0),))
    assert told.pauses == ((6.1, 10.0),)
    assert any(abs(landing - 6.1) < 1e-9 for landing in told.landings)


def test_hands_that_never_leave_change_nothing() -> None:
    one = read(MotionKind.GLIDE, (4.0, 6.0))
    assert landed_as_they_left(one, ()) is one
    assert landed_as_they_left(one, ((30.0, 32.0),)) is one
