"""What hands do in a made-up take, with exact truth: strokes, slips, pauses, changes of motion.

`make_motion(seed, ...)` says where the hands are at any second. Nothing is drawn here; see
`take_scenes`. A stroke ends at its landing: where a glide turns, where an alternate hand arrives,
where a circle comes round to its top, where a press is deepest.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

Numbers = NDArray[np.float64]
Spans = tuple[tuple[float, float], ...]


class Kind(StrEnum):
    """How the hands move."""

    GLIDE = "glide"
    CIRCLE = "circle"
    ALTERNATE = "alternate"
    PRESS = "press"


#: Seconds from landing to landing, the quickest and the slowest.
STROKE_SECONDS = {
    Kind.GLIDE: (2.0, 4.5),
    Kind.CIRCLE: (1.2, 3.2),
    Kind.ALTERNATE: (0.5, 1.2),
    Kind.PRESS: (3.0, 6.0),
}
#: Half of the way of a hand, in pixels of a frame 640 wide.
REACH = {
    Kind.GLIDE: (55.0, 100.0),
    Kind.CIRCLE: (24.0, 46.0),
    Kind.ALTERNATE: (30.0, 62.0),
    Kind.PRESS: (7.0, 12.0),
}
MOVE_SECONDS = 0.7  # that hands take to leave, to come back, and to go elsewhere


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One kind of motion from `start` to `end`, with the seconds of its landings."""

    kind: Kind
    start: float
    end: float
    landings: tuple[float, ...]
    slips: Spans
    pauses: Spans
    away: Spans
    centre: tuple[float, float]
    turn: float  # radians, of the way of the hands
    reach: float
    spread: float  # half of what lies between the hands
    phase: Callable[[float], float]

    def at(self, second: float) -> tuple[float, float, float]:
        """Return phase in strokes, and how far both hands are out of the frame (0 to 1)."""
        out = 0.0
        for start, end in self.away:
            if start <= second <= end:
                out = min(1.0, (second - start) / MOVE_SECONDS, (end - second) / MOVE_SECONDS)
        return float(self.phase(second)), out, 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class HandAt:
    """A hand in a frame 640 × 360: its middle, its turn in radians, its size, how deep (0 to 1)."""

    x: float
    y: float
    turn: float
    size: float
    depth: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """All that the hands do in `seconds`."""

    seed: int
    seconds: float
    stretches: tuple[Stretch, ...]
    landings: tuple[float, ...] = field(default=())
    slips: Spans = ()
    pauses: Spans = ()
    away: Spans = ()

    def hands(self, second: float) -> tuple[HandAt, HandAt]:
        """Return the left and the right hand at `second`."""
        stretch, other, share = self._between(second)
        now = _posed(stretch, second)
        if other is None:
            return now
        then = _posed(other, other.start)
        left, right = (_mixed(a, b, share) for a, b in zip(now, then, strict=True))
        return left, right

    def _between(self, second: float) -> tuple[Stretch, Stretch | None, float]:
        for stretch, later in pairwise(self.stretches):
            if second < stretch.end:
                return stretch, None, 0.0
            if second < later.start:
                share = (second - stretch.end) / (later.start - stretch.end)
                return stretch, later, 0.5 - 0.5 * np.cos(np.pi * share)
        return self.stretches[-1], None, 0.0


def _mixed(one: HandAt, two: HandAt, share: float) -> HandAt:
    def between(a: float, b: float) -> float:
        return a + (b - a) * share

    return HandAt(
        x=between(one.x, two.x),
        y=between(one.y, two.y),
        turn=between(one.turn, two.turn),
        size=between(one.size, two.size),
        depth=between(one.depth, two.depth),
    )


def _posed(stretch: Stretch, second: float) -> tuple[HandAt, HandAt]:
    """Return both hands of one stretch."""
    clipped = min(max(second, stretch.start), stretch.end)
    phase, out, _ = stretch.at(clipped)
    along = np.array([np.cos(stretch.turn), np.sin(stretch.turn)])
    across = np.array([-along[1], along[0]])
    middle = np.array(stretch.centre)
    made = []
    for sign in (-1.0, 1.0):
        swing, side, depth = 0.0, 0.0, 0.0
        if stretch.kind is Kind.GLIDE:
            swing = np.cos(np.pi * phase)
        elif stretch.kind is Kind.ALTERNATE:
            swing = sign * np.cos(np.pi * phase)
        elif stretch.kind is Kind.CIRCLE:
            swing, side = np.cos(2 * np.pi * phase), np.sin(2 * np.pi * phase)
        else:
            depth = 0.5 + 0.5 * np.cos(2 * np.pi * phase)
            swing = depth
        at = middle + stretch.reach * (swing * along + side * across)
        at = at + sign * stretch.spread * across
        at = at + out * np.array([sign * 420.0, 160.0])
        made.append(
            HandAt(
                x=float(at[0]),
                y=float(at[1]),
                turn=float(0.25 * sign + 0.06 * swing),
                size=float(1.0 - 0.07 * depth),
                depth=float(depth),
            )
        )
    return made[0], made[1]


class _Strokes:
    """Phase in strokes at any second, for hands that go to and fro.

    At a turn a hand's speed passes evenly through nothing; where it comes to rest or sets out it
    follows the path of least jerk (Flash & Hogan 1985, *J. Neuroscience* 5:1688): speed grows and
    falls with the square of time.
    """

    def __init__(self, knots: list[tuple[float, float]]) -> None:
        self.knots = knots
        self.starts = [knot[0] for knot in knots]
        steps = [b[1] - a[1] for a, b in pairwise(knots)]
        self.is_rest = [step < 0.05 for step in steps]

    def __call__(self, second: float) -> float:
        n = min(max(bisect_right(self.starts, second) - 1, 0), len(self.is_rest) - 1)
        (start, low), (end, high) = self.knots[n], self.knots[n + 1]
        share = min(max((second - start) / (end - start), 0.0), 1.0)
        if self.is_rest[n]:
            return low + (high - low) * share
        sets_out = n == 0 or self.is_rest[n - 1]
        settles = n + 1 >= len(self.is_rest) or self.is_rest[n + 1]
        base = np.floor(low + 1e-9)
        first, last = (0.5 - 0.5 * np.cos(np.pi * (p - base)) for p in (low, high))
        way = first + (last - first) * _eased(share, sets_out, settles)
        return float(base + np.arccos(1 - 2 * min(max(way, 0.0), 1.0)) / np.pi)


def _eased(share: float, sets_out: bool, settles: bool) -> float:
    """Return the way covered, 0 to 1, from or to a turn or a rest."""
    if sets_out and settles:
        return share**3 * (10 - 15 * share + 6 * share**2)
    if settles:
        return share**2 * (6 - 8 * share + 3 * share**2)
    if sets_out:
        return 1 - _eased(1 - share, False, True)
    return 0.5 - 0.5 * float(np.cos(np.pi * share))


def make_motion(
    seed: int,
    seconds: float,
    kinds: tuple[Kind, ...],
    *,
    jitter: float = 0.15,
    slips_a_minute: float = 0.0,
    pauses_a_minute: float = 0.0,
    leaves_a_minute: float = 0.0,
) -> Motion:
    """Return what hands do in `seconds`: each of `kinds` once, for about equal times.

    `jitter` is the standard deviation of a stroke's length as a share of it (cut at twice that).
    """
    dice = np.random.default_rng(seed)
    gap = 1.6
    each = (seconds - gap * (len(kinds) - 1)) / len(kinds)
    stretches = []
    start = 0.0
    for kind in kinds:
        stretches.append(
            _stretch(
                dice,
                kind,
                start,
                start + each,
                jitter,
                (slips_a_minute, pauses_a_minute, leaves_a_minute),
            )
        )
        start += each + gap
    gaps = tuple((a.end, b.start) for a, b in pairwise(stretches))
    return Motion(
        seed=seed,
        seconds=seconds,
        stretches=tuple(stretches),
        landings=tuple(t for s in stretches for t in s.landings),
        slips=tuple(t for s in stretches for t in s.slips),
        pauses=(*(t for s in stretches for t in s.pauses), *gaps),
        away=tuple(t for s in stretches for t in s.away),
    )


def _stretch(
    dice: np.random.Generator,
    kind: Kind,
    start: float,
    end: float,
    jitter: float,
    a_minute: tuple[float, float, float],
) -> Stretch:
    usual = float(dice.uniform(*STROKE_SECONDS[kind]))
    second, phase = start, 0.0
    knots = [(start, 0.0)]
    landings: list[float] = []
    slips: list[tuple[float, float]] = []
    pauses: list[tuple[float, float]] = []
    away: list[tuple[float, float]] = []
    while True:
        off = float(np.clip(jitter * dice.standard_normal(), -2 * jitter, 2 * jitter))
        lasts = usual * (1 + off)
        chance = np.array(a_minute) * lasts / 60
        does_slip, does_pause, does_leave = (bool(v) for v in dice.random(3) < chance)
        stall = float(dice.uniform(0.45, 0.9)) if does_slip else 0.0
        if second + lasts + stall > end:
            break
        if does_slip:
            share = float(dice.uniform(0.4, 0.6))
            stalls = second + share * lasts
            knots += [(stalls, phase + share - 0.01), (stalls + stall, phase + share + 0.01)]
            slips.append((stalls, stalls + stall))
        second, phase = second + lasts + stall, phase + 1
        knots.append((second, phase))
        landings.append(second)
        rests = 0.0
        if does_leave:
            rests = 2 * MOVE_SECONDS + float(dice.uniform(1.5, 3.5))
        elif does_pause:
            rests = float(dice.uniform(1.2, 3.0))
        if rests and second + rests < end - usual:
            (away if does_leave else pauses).append((second, second + rests))
            second += rests
            knots.append((second, phase))
    knots.append((max(end, second + 0.01), phase))
    low, high = REACH[kind]
    turn = float(dice.choice([0.0, np.pi / 2]) + dice.uniform(-0.35, 0.35))
    times, phases = (np.array(column) for column in zip(*knots, strict=True))
    goes_round = kind is Kind.CIRCLE
    return Stretch(
        kind=kind,
        start=start,
        end=end,
        landings=tuple(landings),
        slips=tuple(slips),
        pauses=tuple(pauses),
        away=tuple(away),
        centre=(float(dice.uniform(270, 370)), float(dice.uniform(140, 200))),
        turn=turn,
        reach=float(dice.uniform(low, high)),
        spread=float(dice.uniform(58, 88)),
        phase=PchipInterpolator(times, phases) if goes_round else _Strokes(knots),
    )
