"""A technique's stroke on its region: the loop a hand travels and when it presses or lifts.

A stroke runs over a share s of 0 to 1, and s = 0.5 is the landing: the far turn of a glide, the
set-down of a touch, the deepest point of a press. All lengths are centimetres on the mean body.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from rondel.drawing.figures.curves import Array, Point, at_shares, bezier, length_of, sampled
from rondel.drawing.figures.regions import Ground
from rondel.model.repertoire import Technique
from rondel.model.words import Contact, Family, Landing, Side, Trace

RAMP = 0.22  # share of a half stroke spent gathering or losing speed
LENS_CM = 1.1  # how far the way home bows away from the way out
ELBOW_ROOM_CM = 3.2  # two forearms lie further out, so that the elbows do not meet
BREATHS = 4  # slow tiny swells over a hold, however long it lasts
TREMBLES = 6
BESIDE_SPINE = ("between_blades", "beside_spine")
_CLEAR_CM = {
    (region, contact): by_cm
    for region, middle in (("between_blades", 5.2), ("beside_spine", 4.6))
    for contact, by_cm in (
        (Contact.PALM, 6.0 - middle),
        (Contact.HEEL, 6.4 - middle),
        (Contact.FIST, 6.4 - middle),
        (Contact.KNUCKLES, 6.4 - middle),
        (Contact.FLAT_FINGERS, 5.6 - middle),
        (Contact.FINGERTIPS, 5.4 - middle),
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class HandPlan:
    """What one hand does: a closed loop (n, 2) on the picture's right side, and its lag.

    `lag` is the share of a cycle by which this hand comes later; `flips` mirrors it to the
    other side; `lands_at` is the share of the loop, by length, where the landing lies.
    """

    loop: Array
    lag: float = 0.0
    flips: bool = False
    lifts_home: bool = False
    turn: float = 0.0  # degrees added to the tilt


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One technique on one side: its hands, how it moves, and its arrow lines."""

    hands: tuple[HandPlan, ...]
    travels: bool  # moves out and home, easing at both turns
    arrows: tuple[Array, ...]  # open or closed lines to draw, right side, centimetres
    closed_arrows: bool = False


def eased(t: Array) -> Array:
    """Return the share of the way covered at share `t` of the time: ramped ends, even middle."""
    r = RAMP
    t = np.clip(t, 0.0, 1.0)

    def ramp(u: Array) -> Array:
        return np.asarray(u / 2 - r / (2 * np.pi) * np.sin(np.pi * u / r), dtype=np.float64)

    way = np.where(t < r, ramp(np.minimum(t, r)), r / 2 + (t - r))
    late = t > 1 - r
    way = np.where(late, 1 - r - ramp(np.minimum(1 - t, r)), way)
    return np.asarray(way / (1 - r), dtype=np.float64)


def _smooth(points: tuple[Point, ...] | Array) -> Array:
    return sampled(bezier(points), 24)


def _part(line: Array, length_cm: float, centre: float = 0.5) -> Array:
    """Return the stretch of `line` of at most `length_cm`, about the share `centre` of it."""
    share = min(1.0, length_cm / max(length_of(line), 1e-6))
    first = min(max(centre - share / 2, 0.0), 1.0 - share)
    return at_shares(line, np.linspace(first, first + share, 49))


def _there_and_back(out: Array, bow_cm: float) -> Array:
    """Return the closed loop out along `out` and home beside it, bowed to the outside."""
    along = np.gradient(out, axis=0)
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    if normal[:, 0].mean() < 0:
        normal = -normal
    bow = np.sin(np.linspace(0, np.pi, len(out)))[:, None] * bow_cm
    return np.concatenate([out, (out + normal * bow)[::-1][1:]])


def _round(centre: Point, radius: float) -> Array:
    """Return a round that starts below its centre, rises on the inside and tops at one half."""
    a = np.linspace(0, 2 * np.pi, 97)
    return np.stack([centre[0] - radius * np.sin(a), centre[1] + radius * np.cos(a)], axis=1)


def _resampled(loop: Array) -> Array:
    return at_shares(loop, np.linspace(0, 1, 129))


def _outward(technique: Technique, ground: Ground) -> Array:
    """Return the loop up the middle, out and home round the edges, fitted to the path's length."""
    start = ground.along[0]
    out = _smooth(ground.along)
    home = _smooth((ground.along[-1], *ground.edge, start))
    loop = np.concatenate([_half(out), _half(home)[1:]])
    wanted = float(technique.path_cm)
    share = min(1.0, wanted / length_of(loop)) if wanted else 1.0
    pivot = np.asarray(ground.spot)
    return np.asarray(pivot + (loop - pivot) * share, dtype=np.float64)


def _half(line: Array) -> Array:
    return at_shares(line, np.linspace(0, 1, 65))


def _stays_high(technique: Technique) -> bool:
    """True for deep work beside the spine, which ends above the waist."""
    return technique.region == "beside_spine" and technique.pressure[1] >= 4


def _line_of(technique: Technique, ground: Ground) -> Array:
    along = technique.trace is not Trace.ACROSS
    is_rubbed = technique.trace is Trace.ALTERNATE and technique.family is Family.FRICTION
    if is_rubbed and technique.lateral:
        along = False  # both hands on one limb or one side rub across it, against each other
    if technique.trace is Trace.ALTERNATE and technique.region == "lower_back":
        along = False  # out from the middle, never up into the soft flank
    line = _smooth(ground.along if along else ground.across)
    half = float(technique.path_cm) / 2 or 4.0
    if along and _stays_high(technique):
        line = line[line[:, 1] <= 36.0]
    part = _part(line, half, 0.5 if along else 0.35)
    return part[::-1] if technique.from_far_end else part


def _apart(ground: Ground, by_cm: float) -> tuple[Point, Point]:
    """Return two places about the spot, `by_cm` from it along the region's long line."""
    line = _smooth(ground.along)
    whole = length_of(line)
    nearest = int(np.argmin(np.linalg.norm(line - np.asarray(ground.spot), axis=1)))
    share = length_of(line[: nearest + 1]) / whole if nearest else 0.0
    reach = min(by_cm, 0.42 * whole) / whole
    share = min(max(share, reach), 1.0 - reach)
    low, high = at_shares(line, np.asarray([share - reach, share + reach]))
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _dot(place: Point) -> Array:
    return np.repeat(np.asarray([place], dtype=np.float64), 2, axis=0)


def _radius(technique: Technique, ground: Ground) -> float:
    wanted = float(technique.path_cm) / (2 * np.pi) if technique.path_cm else ground.radius
    return float(min(wanted, ground.radius))


def _loops(technique: Technique, ground: Ground, spots: tuple[Point, ...]) -> tuple[Array, ...]:
    """Return one loop for each of `spots` (one or two hands on one side)."""
    trace, family = technique.trace, technique.family
    if family.is_held or family in (Family.PERCUSSION, Family.PRESSING, Family.VIBRATION):
        return tuple(_dot(s) for s in spots)
    if trace is Trace.CIRCLE or (family is Family.KNEADING and trace is Trace.ALTERNATE):
        return tuple(_round(s, _radius(technique, ground)) for s in spots)
    if trace is Trace.OUTWARD:
        return tuple(_outward(technique, ground) for _ in spots)
    if trace in (Trace.SPOT, Trace.WRAP):
        return tuple(_dot(s) for s in spots)
    loop = _there_and_back(_line_of(technique, ground), LENS_CM)
    middle = loop.mean(axis=0)
    if len(spots) == 1:
        return (loop,)
    if technique.family is Family.GLIDING:
        return tuple(loop + np.asarray([dx, 0.0]) for dx in (-0.9, 0.9))
    return tuple(loop - middle + np.asarray(s) for s in spots)


def _works_two_handed(technique: Technique, ground: Ground) -> bool:
    """True where one side takes both hands: hand after hand, wrapping, or kneading by handfuls."""
    if technique.trace in (Trace.ALTERNATE, Trace.WRAP):
        return True
    return (
        technique.family is Family.KNEADING
        and technique.trace is Trace.CIRCLE
        and technique.contact is Contact.PALM
    )


def _one_sided(technique: Technique, ground: Ground) -> tuple[HandPlan, ...]:
    if not _works_two_handed(technique, ground):
        return tuple(HandPlan(loop=loop) for loop in _loops(technique, ground, (ground.spot,)))
    low, high = _apart(ground, 4.6)
    first, second = _loops(technique, ground, (low, high))
    lag = 0.5 if technique.trace is not Trace.WRAP else 0.0
    lifts = technique.trace is Trace.ALTERNATE and technique.family is Family.GLIDING
    return (
        HandPlan(loop=first, lifts_home=lifts),
        HandPlan(loop=second, lag=lag, lifts_home=lifts, turn=8.0),
    )


def _rests_on_midline(technique: Technique, ground: Ground, side: Side) -> bool:
    return ground.on_midline and side is not Side.LEFT and side is not Side.RIGHT


def _midline(technique: Technique, ground: Ground) -> tuple[HandPlan, ...]:
    """One hand in the middle, on the broad bone at the base of the back or on the belly."""
    spot = (0.0, ground.spot[1])
    if technique.trace is Trace.CIRCLE:
        radius = min(float(technique.path_cm) / (2 * np.pi) or 2.0, max(ground.radius, 4.2))
        return (HandPlan(loop=_round(spot, radius)),)
    return (HandPlan(loop=_dot(spot)),)


def _outwards_cm(technique: Technique) -> float:
    """Return how far a whole way is moved outwards, so that the drawn hand lies where it should.

    Beside the spine half a hand's breadth has to lie clear of the bones.
    """
    family, contact = technique.family, technique.contact
    if technique.region in BESIDE_SPINE:
        return 1.6 if contact is Contact.FOREARM else _CLEAR_CM.get((technique.region, contact), 0)
    if technique.region == "thighs" and contact is Contact.HEEL and technique.lateral:
        return 2.6  # the outside of the thigh
    if technique.region == "blades" and family is Family.FRICTION:
        return -1.9  # the blade's inner edge
    return 0.0


def _elbow_room_cm(loop: Array, ground: Ground) -> float:
    """Return how far a forearm's way may move outwards and still lie well on its region."""
    edge = max(x for x, _ in ground.patch) - 1.4
    return float(np.clip(edge - loop[:, 0].max(), 0.0, ELBOW_ROOM_CM))


def stroke_of(technique: Technique, ground: Ground, side: Side) -> Stroke:
    """Return the stroke of `technique` on `ground`; lateral work stays on one side."""
    if side.is_one_sided:
        hands = _one_sided(technique, ground)
    elif _rests_on_midline(technique, ground, side):
        hands = _midline(technique, ground)
    else:
        (loop,) = _loops(technique, ground, (ground.spot,))
        if technique.contact is Contact.FOREARM:
            loop = loop + np.asarray([_elbow_room_cm(loop, ground), 0.0])
        alternates = technique.trace is Trace.ALTERNATE
        lifts = alternates and technique.family is Family.GLIDING
        hands = (
            HandPlan(loop=loop, lifts_home=lifts),
            HandPlan(loop=loop, flips=True, lag=0.5 if alternates else 0.0, lifts_home=lifts),
        )
    shift = np.asarray([_outwards_cm(technique), 0.0])
    hands = tuple(replace(hand, loop=hand.loop + shift) for hand in hands)
    moves = [hand.loop for hand in hands if len(hand.loop) > 2]
    is_round = technique.trace is Trace.CIRCLE or technique.family is Family.KNEADING
    is_straight = technique.trace in (Trace.ALONG, Trace.ACROSS)
    travels = bool(moves) and (is_straight or not is_round)
    return Stroke(hands=hands, travels=travels, arrows=tuple(moves), closed_arrows=not travels)


def shares_of(phases: Array, landing_phase: float, stroke: Stroke, landing: Landing) -> Array:
    """Return the stroke's share at each phase, so that `landing_phase` falls on one half.

    A travelling stroke starts and ends the cycle at home where its landing leaves room for both
    ways; other strokes turn evenly.
    """
    phases = np.mod(phases, 1.0)
    at = landing_phase % 1.0
    if stroke.travels and landing is Landing.TURN and 0.2 <= at <= 0.8:
        way = np.where(phases < at, phases / at / 2, 0.5 + (phases - at) / (1 - at) / 2)
        return np.asarray(way, dtype=np.float64)
    return np.asarray(np.mod(phases - at + 0.5, 1.0), dtype=np.float64)
