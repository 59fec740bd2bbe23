"""Hands that leave the picture flow out over its edges and come back in; hands at rest do not."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import chain

import numpy as np

from rondel.drawing.seen_picture import draw_seen
from rondel.fitting.choosing import Limits
from rondel.fitting.holding import _still_parts
from rondel.fitting.named import NamedTake
from rondel.fitting.passages import _Own, _strokes
from rondel.model.take import MotionKind, Seen, SeenStretch
from rondel.model.track import Span
from rondel.watching.away import Spans, _Flow, _is_quiet, away_spans, without
from rondel.watching.moving import CELLS_LONG, CELLS_SHORT, Moved, Moving
from rondel.watching.seeing import see
from take_motion import Kind, Motion, make_motion
from take_moved import moved_in
from take_scenes import TakeScene, Trouble

RATE = 25


def moved_of(across: np.ndarray) -> Moved:
    """Return what moves where `across` (pairs, down, across) tells how fast each cell does."""
    at = (np.arange(len(across)) + 0.5) / RATE
    cells = np.stack([across, np.zeros_like(across)], axis=-1).astype(np.float32)
    camera = np.zeros((len(across), 4), dtype=np.float32)
    one = Moving(lag=1, at=at, cells=cells, camera=camera)
    return Moved(frames=np.arange(len(across) + 1) / RATE, lags=(one,))


def burst(*, out_at: float, back_at: float, is_gone: bool) -> np.ndarray:
    """Return 40 s of strokes in the middle of the picture that rest from 18 to 22 s, with two
    bursts: out to both sides and back where hands are gone, else both the same way across it."""
    at = (np.arange(40 * RATE) + 0.5) / RATE
    strokes = np.where((at > 18) & (at < 22), 0.0, 20 * np.sin(np.pi * at / 2))
    cells = np.zeros((len(at), CELLS_SHORT, CELLS_LONG))
    cells[:, 3:6, 5:11] = strokes[:, None, None]
    for begins, sign in ((out_at, 1.0), (back_at, -1.0)):
        during = (at >= begins) & (at < begins + 0.6)
        if is_gone:
            cells[during, :, CELLS_LONG // 2 :] = 60 * sign
            cells[during, :, : CELLS_LONG // 2] = -60 * sign
        else:
            cells[during] = 60.0
    return cells


def test_what_flows_out_and_in_again_around_a_rest_is_hands_that_leave() -> None:
    found = away_spans(moved_of(burst(out_at=18.2, back_at=21.2, is_gone=True)))
    assert near(found, ((18.2, 21.8),)) < 0.15


def test_an_arm_that_crosses_before_and_after_a_rest_takes_no_hand_away() -> None:
    assert away_spans(moved_of(burst(out_at=18.2, back_at=21.2, is_gone=False))) == ()


def test_a_rest_alone_and_a_take_in_which_nothing_moves_are_no_leaving() -> None:
    assert away_spans(moved_of(burst(out_at=50.0, back_at=50.0, is_gone=True))) == ()
    assert away_spans(moved_of(np.zeros((400, CELLS_SHORT, CELLS_LONG)))) == ()
    assert away_spans(moved_of(np.zeros((3, CELLS_SHORT, CELLS_LONG)))) == ()


def test_pictures_that_are_missing_for_long_harm_nothing() -> None:
    moved = moved_of(burst(out_at=18.2, back_at=21.2, is_gone=True))
    one = moved.lags[0]
    at = np.where(one.at > 30, one.at + 90, one.at)
    later = replace(moved, lags=(replace(one, at=at),))
    assert near(away_spans(later), ((18.2, 21.8),)) < 0.15


def test_nothing_moves_in_a_span_that_is_left_out_and_all_else_stays() -> None:
    moved = moved_of(burst(out_at=18.2, back_at=21.2, is_gone=True))
    left = without(moved, ((18.0, 22.0),)).lags[0]
    inside = (left.at > 18) & (left.at < 22)
    assert not left.cells[inside].any()
    outside = (left.at < 17.9) | (left.at > 22.1)
    assert np.array_equal(left.cells[outside], moved.lags[0].cells[outside])
    assert without(moved, ()) is moved


@cache
def taken(seed: int) -> tuple[Motion, Moved]:
    motion = make_motion(seed, 32, (Kind.GLIDE,), pauses_a_minute=3, leaves_a_minute=4)
    return motion, moved_in(TakeScene(motion=motion, trouble=Trouble()))[0]


def test_hands_of_a_drawn_take_are_away_when_they_are_and_rest_when_they_do() -> None:
    motion, moved = next(
        (motion, taken(seed)[1])
        for seed in range(40, 200)
        if (motion := make_motion(seed, 32, (Kind.GLIDE,), pauses_a_minute=3, leaves_a_minute=4))
        and len(motion.away) == 1
        and len(motion.pauses) == 1
    )
    found = away_spans(moved)
    assert near(found, motion.away) < 0.25
    rests = tuple(pause for read in see(moved).reads for pause in read.pauses)
    assert min(near((rest,), motion.pauses) for rest in rests) < 0.3


def near(found: Spans, truth: Spans) -> float:
    """Return how far the edges of spans are off, in seconds, where there are as many."""
    assert len(found) == len(truth)
    edges = zip(chain.from_iterable(found), chain.from_iterable(truth), strict=True)
    return max(abs(a - b) for a, b in edges)


def test_it_is_quiet_where_hardly_anything_moves_but_for_hands_that_leave_and_come() -> None:
    at = np.arange(0, 20, 0.04)
    for share, is_quiet in ((0.05, True), (0.3, False)):
        moves = np.where((at > 5) & (at < 10), share, 1.0)
        moves[(at > 5) & (at < 5.5) | (at > 9.5) & (at < 10)] = 3.0
        cells = np.zeros((len(at), 9, 16, 2), dtype=np.float32)
        flow = _Flow(at=at, share=moves, out=np.zeros(len(at)), cells=cells)
        assert _is_quiet(flow, 5.0, 10.0) is is_quiet
        assert not _is_quiet(flow, 9.0, 14.0)


def test_a_frame_of_broken_lines_shows_where_no_hand_is_and_the_key_names_it() -> None:
    seen = Seen(seconds=60, fps=25, width=640, height=360, stretches=())
    away = Seen(
        seconds=60, fps=25, width=640, height=360, stretches=(), away=(Span(start=28, end=33),)
    )
    plain, drawn = draw_seen(seen, "a take", ()), draw_seen(away, "a take", ())
    assert 'class="away"' not in plain
    assert "broken frame" not in plain
    # It goes over the end of a line of thirty seconds, so that it is drawn in two.
    assert drawn.count("stroke-dasharray") == 2
    assert "hands are out of the picture" in drawn
    assert "Hands are out of the picture from 0:28 to 0:33." in drawn


def test_no_stroke_is_shown_nor_hands_held_while_hands_are_out_of_the_picture() -> None:
    stretch = SeenStretch(
        span=Span(start=0, end=60),
        kind=MotionKind.GLIDE,
        landings=(10.0, 14.0, 18.0, 22.0),
        period=4.0,
        confidence=1.0,
    )
    seen = Seen(seconds=60, fps=25, width=640, height=360, stretches=(stretch,))
    gone = replace(seen, away=(Span(start=15.0, end=16.0),))
    for one, starts in ((seen, [10.0, 14.0, 18.0]), (gone, [10.0, 18.0])):
        own = _Own(take=NamedTake(name="a", seen=one), stretches=(stretch,), is_mirrored=False)
        assert [stroke.start for stroke in _strokes([own], Limits())[0]] == starts
    assert _still_parts(NamedTake(name="a", seen=seen)) == [(0.5, 59.5)]
    assert _still_parts(NamedTake(name="a", seen=gone)) == [(0.5, 15.0), (16.0, 59.5)]
