"""Strokes are told where they were put: signals and takes made here, so that the truth is exact."""

from __future__ import annotations

from functools import cache
from itertools import combinations, pairwise

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rondel.adapters.motion_flow import FlowStream, evened
from rondel.model.take import Fault, MotionKind
from rondel.watching.changes import partition
from rondel.watching.looks import faults_of
from rondel.watching.moving import CELLS_LONG, CELLS_SHORT, Moved, Moving
from rondel.watching.seeing import SeenMotion, see, see_signals
from rondel.watching.signals import RATE, Signals
from rondel.watching.stretch import read
from rondel.watching.turns import landings_at, turns_at
from take_motion import Kind, Motion, make_motion
from take_moved import moved_in
from take_scenes import TakeScene, Trouble


@cache
def seen(*kinds: Kind, seconds: float = 24.0, slips: float = 0.0) -> tuple[Motion, SeenMotion]:
    motion = make_motion(11, seconds, kinds, jitter=0.1, slips_a_minute=slips)
    return motion, see(moved_in(TakeScene(motion=motion, trouble=Trouble()))[0])


def off(found: tuple[float, ...], truth: tuple[float, ...]) -> np.ndarray:
    """Return how far every true landing is from the nearest found one, in seconds."""
    return np.asarray(np.abs(np.array(found)[:, None] - np.array(truth)[None, :]).min(axis=0))


# ------------------------------------------------------------------ from pictures to flow


def textured(shift: tuple[float, float], turn: float = 0.0) -> np.ndarray:
    dice = np.random.default_rng(3)
    noise = cv2.GaussianBlur(dice.standard_normal((440, 720)).astype(np.float32), (0, 0), 2.5)
    plane = 128 + 40 * noise / noise.std()
    cosine, sine = np.cos(turn), np.sin(turn)
    middle = np.array([360.0, 220.0])
    rotated = np.array([[cosine, -sine], [sine, cosine]])
    start = middle - rotated @ middle + np.array(shift) - 40
    move = np.concatenate([rotated, start[:, None]], axis=1).astype(np.float32)
    warped = cv2.warpAffine(np.asarray(plane, dtype=np.float32), move, (640, 360))
    return np.asarray(np.clip(warped, 0, 255), dtype=np.uint8)


def test_a_camera_that_moves_is_told_from_what_moves_before_it() -> None:
    # Pixels of a picture 320 wide: half of those of the frame. OpenCV's warpAffine is the truth.
    stream = FlowStream()
    stream.feed(evened(textured((0, 0))))
    step = stream.feed(evened(textured((3.0, -2.0), turn=0.004)))[0]
    assert step is not None
    across, down, growth, turn = step.camera
    assert (across, down) == pytest.approx((1.5, -1.0), abs=0.08)
    assert growth == pytest.approx(0, abs=0.005)
    assert turn == pytest.approx(0.004 * 8, abs=0.006)  # cells are eight pixels
    assert np.abs(step.cells).max() < 0.15


def test_a_part_that_moves_is_seen_where_it_is_and_as_fast() -> None:
    still, shifted = textured((0, 0)), textured((4.0, 0.0))
    both = still.copy()
    both[90:270, 160:320] = shifted[90:270, 160:320]
    stream = FlowStream()
    stream.feed(evened(still))
    step = stream.feed(evened(both))[0]
    assert step is not None
    inside = step.cells[3:6, 5:7, 0]
    outside = np.delete(step.cells[..., 0], slice(3, 9), axis=1)
    # Two pixels, times how well flow can be told there (at most 1).
    assert 0.9 < inside.mean() <= 2.0
    assert inside.max() < 2.1
    assert np.abs(outside).max() < 0.25
    assert step.cells.shape == (CELLS_SHORT, CELLS_LONG, 2)


def test_a_spot_of_light_that_moves_by_itself_does_not_carry_what_lies_under_it() -> None:
    # The plane, faint as skin is, moves two pixels (of 320) across, the light six the other way.
    # Flow on whole pictures gave -1.2 here.
    def lit(shift: float, x: float) -> np.ndarray:
        rows, columns = np.mgrid[0:360, 0:640]
        glow = 130 * np.exp(-((columns - x) ** 2 + (rows - 180.0) ** 2) / (2 * 30.0**2))
        still = textured((0, 0)).astype(np.float64)
        still[90:270, 160:480] = textured((shift, 0.0))[90:270, 160:480]
        return np.asarray(np.clip(0.15 * (still - 128) + 110 + glow, 0, 255), dtype=np.uint8)

    stream = FlowStream()
    stream.feed(evened(lit(0.0, 320.0)))
    step = stream.feed(evened(lit(4.0, 308.0)))[0]
    assert step is not None
    # Around the light, where it does not blind: as the plane does, never as the light does.
    around = step.cells[3:6, 5:11, 0]
    assert around.min() > -0.25
    assert around.mean() > 0.5


# ------------------------------------------------------------------ from flow to strokes


@pytest.mark.parametrize(
    ("kind", "told"),
    [
        (Kind.GLIDE, MotionKind.GLIDE),
        (Kind.CIRCLE, MotionKind.CIRCLE),
        (Kind.ALTERNATE, MotionKind.ALTERNATE),
    ],
)
def test_one_kind_of_motion_is_told_by_its_kind_and_its_landings(
    kind: Kind, told: MotionKind
) -> None:
    motion, found = seen(kind)
    assert [read.kind for read in found.reads] == [told]
    read = found.reads[0]
    if told is MotionKind.CIRCLE:
        # Where a circle lands is a convention: by the phase of one true landing.
        place = turns_at(read.eighths, read.pauses, motion.landings[1])
        landings = landings_at(read.eighths, read.pauses, place, read.end)
    else:
        landings = read.landings
    assert abs(len(landings) - len(motion.landings)) <= 1
    assert np.median(off(landings, motion.landings)) <= 0.02
    assert np.mean(off(landings, motion.landings) <= 0.08) >= 0.9


@pytest.mark.parametrize("seed", [103, 121])
def test_a_circle_that_ends_or_rests_as_hands_land_lands_there(seed: int) -> None:
    # Tuning seeds. One tap, the third landing, tells the place; the last landing is where the
    # hands stop, and no slip.
    motion = make_motion(seed, 24.0, (Kind.CIRCLE,), jitter=0.15, pauses_a_minute=4)
    found = see(moved_in(TakeScene(motion=motion, trouble=Trouble()))[0]).reads
    assert len(found) == 1
    read = found[0]
    place = turns_at(read.eighths, read.pauses, motion.landings[2])
    landings = landings_at(read.eighths, read.pauses, place, read.end)
    assert len(landings) == len(motion.landings)
    assert np.max(off(landings, motion.landings)) <= 0.05
    assert read.slips == ()


def test_places_of_turns_go_on_through_a_rest() -> None:
    # Two seconds a turn, begun at half a turn; at rest from 4.5 (2.75 turns) to 7.5.
    seconds = [max(0.0, 2 * (n / 8 - 0.5)) for n in range(8 * 5 + 1)]
    eighths = [t if t <= 4.5 else t + 3.0 for t in seconds]
    rests = [(4.5, 7.5)]
    for second in (4.5, 6.0, 7.5):
        assert turns_at(eighths, rests, second) == pytest.approx(2.75)
    # Just where hands rest; a little after it, which is as good as there; far from it.
    for place, wanted in (
        (0.75, (0.5, 2.5, 4.5, 9.5, 11.5)),
        (0.78, (0.56, 2.56, 4.5, 9.56, 11.56)),
        (0.9, (0.8, 2.8, 7.8, 9.8, 11.8)),
        (0.55, (2.1, 4.1, 9.1, 11.1)),  # at 0.1 a stroke would have no way behind it
    ):
        assert landings_at(eighths, rests, place, 20.0) == pytest.approx(wanted)
    assert landings_at(eighths, rests, 0.25, 9.0) == pytest.approx((1.5, 3.5, 8.5))


def test_pressing_is_told_and_lands_where_hands_are_deepest() -> None:
    motion, found = seen(Kind.PRESS, seconds=32.0)
    assert {read.kind for read in found.reads} == {MotionKind.PRESS}
    assert np.median(off(found.landings, motion.landings)) <= 0.08


def test_a_press_that_stays_lifted_far_longer_than_usual_is_a_slip() -> None:
    # A tuning seed; other presses of the same take stay lifted as long as ever, and are none.
    motion = make_motion(101, 40.0, (Kind.PRESS,), jitter=0.15, slips_a_minute=2)
    found = see(moved_in(TakeScene(motion=motion, trouble=Trouble()))[0])
    slips = [slip for read in found.reads for slip in read.slips]
    assert len(slips) == len(motion.slips) == 1
    assert slips[0][0] < motion.slips[0][1]
    assert slips[0][1] > motion.slips[0][0]


def test_where_one_motion_ends_and_another_begins_is_seen() -> None:
    motion, found = seen(Kind.GLIDE, Kind.ALTERNATE, seconds=36.0)
    assert [read.kind for read in found.reads] == [MotionKind.GLIDE, MotionKind.ALTERNATE]
    change = found.reads[1].start
    before, after = motion.stretches
    assert before.end - 1.5 <= change <= after.start + 1.5
    assert np.mean(off(found.landings, motion.landings) <= 0.08) >= 0.95


def test_a_hand_that_stalls_is_a_slip_and_a_steady_one_is_none() -> None:
    motion, found = seen(Kind.ALTERNATE, seconds=24.0, slips=12.0)
    assert motion.slips
    slips = [slip for read in found.reads for slip in read.slips]
    for start, end in motion.slips:
        assert any(a < end and b > start for a, b in slips)
    assert len(slips) <= len(motion.slips) + 1
    _, steady = seen(Kind.ALTERNATE)
    assert [slip for read in steady.reads for slip in read.slips] == []


def test_nothing_that_moves_gives_no_strokes() -> None:
    count = 20 * RATE
    dice = np.random.default_rng(1)

    def noise(*shape: int) -> np.ndarray:
        return dice.standard_normal(shape)

    still = Signals(
        at=np.arange(count) / RATE,
        together=noise(3, count, 2),
        apart=noise(3, count, 4),
        speed=np.abs(noise(3, count)),
    )
    found = see_signals(still)
    told = [read for read in found.reads if read.strength > 10]
    assert told == []


def small_strokes(speed: float, seconds: float = 30.0) -> Signals:
    """Return `seconds` of strokes of 0.6 s, as noisy as film of a small tool at work."""
    at, dice = np.arange(seconds * RATE) / RATE, np.random.default_rng(4)
    along = 40 * np.sin(np.pi * at / 0.6)
    noise = dice.standard_normal((3, len(at), 6)) * 3
    return Signals(
        at=at,
        together=np.stack([along, 0.2 * along], axis=1)[None] + noise[..., :2],
        apart=noise[..., 2:],
        speed=np.stack([speed * np.abs(np.sin(np.pi * at / 0.6))] * 3),
    )


def test_small_strokes_that_are_no_press_are_told_and_what_travels_less_is_rest() -> None:
    # Half a minute has 50 strokes of 0.6 s; 8 pixels a second at the quickest travel 3 pixels.
    (read,) = see_signals(small_strokes(8.0)).reads
    assert read.kind is MotionKind.GLIDE
    assert len(read.landings) == pytest.approx(50, abs=1)
    assert see_signals(small_strokes(1.0)).reads == ()


def test_three_strokes_are_enough_only_where_they_travel_far() -> None:
    assert read(small_strokes(8.0, 1.8), 0.0, 1.8) is None
    for speed, seconds in ((40.0, 1.8), (8.0, 2.4)):
        found = read(small_strokes(speed, seconds), 0.0, seconds)
        assert found is not None
        assert len(found.landings) == round(seconds / 0.6)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.9, 1.6), min_size=8, max_size=16), st.floats(40, 400), st.floats(0, 3))
def test_turns_of_a_plain_motion_are_found_to_a_few_milliseconds(
    strokes: list[float], speed: float, way: float
) -> None:
    edges = np.concatenate([[0.0], np.cumsum(strokes)])
    at = np.arange(int(edges[-1] * RATE)) / RATE
    number = np.clip(np.searchsorted(edges, at, side="right") - 1, 0, len(strokes) - 1)
    share = (at - edges[number]) / np.array(strokes)[number]
    along = speed * np.where(number % 2 == 0, 1, -1) * np.sin(np.pi * share)
    together = np.stack([along * np.cos(way), along * np.sin(way)], axis=1)
    signals = Signals(
        at=at,
        together=np.stack([together] * 3),
        apart=np.zeros((3, len(at), 4)),
        speed=np.stack([np.abs(along)] * 3),
    )
    found = see_signals(signals).landings
    assert np.max(off(found, tuple(edges[1:-1]))) < 0.02


# ------------------------------------------------------------------ parts of it


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(-3, 3), min_size=6, max_size=11), st.floats(0.1, 5))
def test_the_cheapest_partition_equals_trying_every_one(
    values: list[float], penalty: float
) -> None:
    rows, least = np.array(values)[:, None], 2

    def cost(edges: tuple[int, ...]) -> float:
        runs = [rows[a:b] for a, b in pairwise(edges)]
        return sum(float(((run - run.mean()) ** 2).sum()) for run in runs) + penalty * (
            len(runs) - 1
        )

    count = len(values)
    every = [
        (0, *inner, count)
        for size in range(count)
        for inner in combinations(range(1, count), size)
        if all(b - a >= least for a, b in pairwise((0, *inner, count)))
    ]
    best = min(cost(edges) for edges in every)
    assert cost(tuple(partition(rows, least, penalty))) == pytest.approx(best)


def test_what_is_hard_to_use_is_told_where_it_is() -> None:
    seconds = np.arange(250) / 25
    looks = np.tile(np.array([120.0, 0.01, 400.0], dtype=np.float32), (250, 1))
    looks[50:100, 0] = 12.0
    looks[150:200, 2] = 30.0
    nothing = Moving(
        lag=1,
        at=seconds[1:],
        cells=np.zeros((249, CELLS_SHORT, CELLS_LONG, 2), dtype=np.float32),
        camera=np.zeros((249, 4), dtype=np.float32),
    )
    found = faults_of(Moved(frames=seconds, lags=(nothing,)), looks)
    assert [fault.fault for fault in found] == [Fault.DARK, Fault.BLURRED]
    assert (found[0].span.start, found[0].span.end) == pytest.approx((2.0, 4.0), abs=0.05)
