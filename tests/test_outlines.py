"""Outlines of hands that go and come nowhere else: no hand is in the picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rondel.adapters.motion_flow import evened, outlines
from rondel.watching.away import away_spans
from rondel.watching.moving import CELLS_LONG, CELLS_SHORT, Moved, Moving, Outlines
from rondel.watching.outlines import lines_of, spans_without, surely_gone

RATE = 25 / 4
SECONDS = 60
AT = np.arange(SECONDS * RATE) / RATE
AWAY = (AT > 30) & (AT < 34)


def seen(
    place: np.ndarray, *, has_hands: np.ndarray | bool = True, light: np.ndarray | float = 1.0
) -> Outlines:
    """Return noisy skin of uneven strength and a hand of 3 × 3 cells from `place` (across) on."""
    dice = np.random.default_rng(4)
    skin = dice.uniform(2.0, 6.0, (CELLS_SHORT, CELLS_LONG))
    cells = np.broadcast_to(skin, (len(AT), CELLS_SHORT, CELLS_LONG)).copy()
    there = np.broadcast_to(has_hands, AT.shape)
    for number in np.flatnonzero(there):
        left = round(float(place[number]))
        cells[number, 3:6, left : left + 3] = 9.0
    cells *= np.broadcast_to(light, AT.shape)[:, None, None]
    cells *= dice.lognormal(0.0, 0.03, cells.shape)
    return Outlines(at=AT, cells=cells.astype(np.float32))


def found(told: Outlines) -> tuple[tuple[float, float], ...]:
    lines = lines_of(told)
    assert lines is not None
    return surely_gone(lines, tuple(spans_without(lines)))


STROKES = 6.5 + 4 * np.cos(np.pi * AT / 3)


def test_hands_that_stroke_and_leave_are_gone_when_they_are() -> None:
    (start, end), *more = found(seen(STROKES, has_hands=~AWAY))
    assert not more
    assert abs(start - 30) < 0.25
    assert abs(end - 34) < 0.25


def test_hands_that_never_move_and_leave_are_gone_when_they_are() -> None:
    (start, end), *more = found(seen(np.full(len(AT), 6.0), has_hands=~AWAY))
    assert not more
    assert abs(start - 30) < 0.25
    assert abs(end - 34) < 0.25


def test_hands_at_rest_are_not_gone_where_they_land_nor_where_they_never_were() -> None:
    assert found(seen(np.where(AWAY, 2.5, STROKES))) == ()
    assert found(seen(np.where(AWAY, 13.0, np.full(len(AT), 3.0)))) == ()


def test_what_outlines_lack_at_other_turns_too_takes_no_hand_away() -> None:
    # Hands that turn show no outlines for four seconds, and at five other turns for half a second:
    # in a twelfth of all pictures that have hands.
    turns = np.isin(np.round(AT), (5, 13, 21, 45, 53)) & (np.abs(AT - np.round(AT)) < 0.25)
    lines = lines_of(seen(STROKES, has_hands=~(AWAY | turns)))
    once = lines_of(seen(STROKES, has_hands=~AWAY))
    assert lines is not None
    assert once is not None
    assert surely_gone(lines, ((30.0, 34.0),)) == ()
    assert surely_gone(once, ((30.0, 34.0),)) == ((30.0, 34.0),)


def test_hands_that_go_far_back_with_most_of_their_outlines_have_not_left() -> None:
    # Hands of three by six cells that stroke; for four seconds a third of it is out of the picture,
    # or all of it.
    dice = np.random.default_rng(4)
    skin = dice.uniform(2.0, 6.0, (CELLS_SHORT, CELLS_LONG))
    noise = dice.lognormal(0.0, 0.03, (len(AT), CELLS_SHORT, CELLS_LONG))
    left = np.round(5 + 5 * np.cos(np.pi * AT / 3)).astype(int)

    def gone_with(rows: int) -> tuple[tuple[float, float], ...]:
        cells = np.broadcast_to(skin, noise.shape).copy()
        for number, first in enumerate(left):
            cells[number, 3 + (rows if AWAY[number] else 0) : 6, first : first + 6] = 9.0
        lines = lines_of(Outlines(at=AT, cells=(cells * noise).astype(np.float32)))
        assert lines is not None
        return surely_gone(lines, ((30.0, 34.0),), (True,))

    assert gone_with(1) == ()
    assert gone_with(3) == ((30.0, 34.0),)


def test_where_it_is_quiet_hands_may_leave_a_little_more_behind() -> None:
    # For four seconds hands have .58 of their outlines, as a share of their logarithms.
    dice = np.random.default_rng(4)
    cells = np.broadcast_to(
        dice.uniform(2.0, 6.0, (CELLS_SHORT, CELLS_LONG)), (len(AT), CELLS_SHORT, CELLS_LONG)
    ).copy()
    for number, left in enumerate(np.round(5 + 5 * np.cos(np.pi * AT / 3)).astype(int)):
        place = cells[number, 3:6, left : left + 6]
        place *= (9.0 / place) ** (0.58 if AWAY[number] else 1.0)
    cells *= dice.lognormal(0.0, 0.03, cells.shape)
    lines = lines_of(Outlines(at=AT, cells=cells.astype(np.float32)))
    assert lines is not None
    assert surely_gone(lines, ((30.0, 34.0),), (True,)) == ((30.0, 34.0),)
    assert surely_gone(lines, ((30.0, 34.0),), (False,)) == ()


def test_light_that_changes_takes_no_hand_away() -> None:
    assert found(seen(STROKES, light=np.where(AWAY, 0.4, 1.0))) == ()
    assert found(seen(STROKES, light=1 + 0.5 * np.sin(AT))) == ()


def test_hands_gone_three_times_in_a_minute_are_gone_each_time() -> None:
    away = ((AT > 5) & (AT < 10)) | ((AT > 20) & (AT < 25)) | ((AT > 40) & (AT < 46))
    told = found(seen(STROKES, has_hands=~away))
    assert [round(start) for start, _ in told] == [5, 20, 40]


def moved(told: Outlines, *, rests: bool) -> Moved:
    """Return strokes in the middle of the picture that rest while hands are away, or do not;
    nothing flows over its edges."""
    at = (np.arange(SECONDS * 25) + 0.5) / 25
    speed = 20 * np.sin(np.pi * at / 2) + np.random.default_rng(5).normal(0, 0.5, len(at))
    cells = np.zeros((len(at), CELLS_SHORT, CELLS_LONG, 2), dtype=np.float32)
    is_still = (at > 30) & (at < 34) if rests else np.zeros(len(at), dtype=bool)
    cells[:, 3:6, 5:11, 0] = np.where(is_still, 0.0, speed)[:, None, None]
    camera = np.zeros((len(at), 4), dtype=np.float32)
    one = Moving(lag=1, at=at, cells=cells, camera=camera)
    return Moved(frames=np.arange(len(at) + 1) / 25, lags=(one,), outlines=told)


def test_hands_left_where_outlines_are_gone_and_nothing_moves() -> None:
    ((start, end),) = away_spans(moved(seen(STROKES, has_hands=~AWAY), rests=True))
    assert abs(start - 30) < 0.3
    assert abs(end - 34) < 0.3


def test_who_else_leaves_the_picture_takes_no_hands_along_that_go_on() -> None:
    assert away_spans(moved(seen(STROKES, has_hands=~AWAY), rests=False)) == ()


def test_hands_at_rest_with_all_their_outlines_have_not_left() -> None:
    assert away_spans(moved(seen(STROKES), rests=True)) == ()


def test_hands_that_come_first_and_go_at_last_are_away_at_both_ends() -> None:
    still = moved(seen(STROKES), rests=False)
    at = still.lags[0].at
    cells = still.lags[0].cells * ((at > 10) & (at < 54))[:, None, None, None]
    has_hands = (AT > 10) & (AT < 54)
    ends = replace(
        still,
        lags=(replace(still.lags[0], cells=cells.astype(np.float32)),),
        outlines=seen(STROKES, has_hands=has_hands),
    )
    (begins, comes), (goes, over) = away_spans(ends)
    assert begins < 0.3
    assert over > SECONDS - 0.5
    assert abs(comes - 10) < 0.5
    assert abs(goes - 54) < 0.5


def test_a_take_of_a_few_pictures_tells_nothing() -> None:
    told = seen(STROKES)
    assert lines_of(Outlines(at=told.at[:10], cells=told.cells[:10])) is None


def test_a_line_is_an_outline_in_its_cell_and_even_light_is_none() -> None:
    picture = np.full((180, 320), 120, dtype=np.uint8)
    picture[:, 200:] = 90  # an edge between cells 9 and 10, of 20 pixels each
    picture[42:58, 45:48] = 30
    told = outlines(evened(picture))
    assert told.shape == (CELLS_SHORT, CELLS_LONG)
    assert told[2, 2] == told[:, :8].max()
    assert told[2, 2] > 5 * told[2, 5]
    assert outlines(np.ascontiguousarray(picture.T)).shape == (CELLS_LONG, CELLS_SHORT)
