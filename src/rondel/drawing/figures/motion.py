"""Where the hands are, how they lie and how they press, at any phase of a stroke."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from rondel.drawing.figures.curves import Array
from rondel.drawing.figures.looks import BodyShape
from rondel.drawing.figures.strokes import (
    BESIDE_SPINE,
    BREATHS,
    TREMBLES,
    HandPlan,
    Stroke,
    eased,
    shares_of,
    stroke_of,
)
from rondel.drawing.figures.views import Facing, View, ground_of, view_of
from rondel.model.repertoire import Technique
from rondel.model.words import Contact, Family, Landing, Position, Side

#: The columns of a track.
X, Y, ANGLE, SCALE, PRESSING = range(5)
HOME_SHARE = 0.3  # of a travelling loop: where a stroke that sinks on its way is deepest
TOUCH = 0.2  # share of a cycle in which a struck hand comes down and leaves
LIFTED = 0.1  # how much larger a lifted hand looks
LYING_TURN = 70.0  # hands on someone lying on the side point to the head, from below
SUNK = 0.05  # how much smaller a pressing hand looks
#: Fingers point outwards over the shoulder, away from the side of the neck.
_OVER_SHOULDER = {Contact.HEEL: -38.0, Contact.PALM: -16.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class HandPose:
    """One hand at one instant: place in pixels, turn in degrees clockwise, and pressing 0 to 1.

    Draw its sprite moved to x, y, turned, scaled, and mirrored left to right first where
    `mirrored` is true (the giver's left hand).
    """

    contact: Contact
    mirrored: bool
    x: float
    y: float
    angle_degrees: float
    scale: float
    pressing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A technique on a side in a position: the view, the ground and the stroke."""

    view: View
    stroke: Stroke
    tilt: float


@lru_cache(maxsize=1024)
def scene_of(technique: Technique, side: Side, position: Position) -> Scene:
    """Return what is seen and done."""
    view = view_of(technique.region, position, side)
    ground = ground_of(view, technique.region)
    tilt = ground.tilt
    if technique.contact is Contact.FOREARM:
        tilt = _forearm_tilt(technique, view)
    elif technique.region == "shoulders" and technique.family is Family.PRESSING:
        tilt = -62.0  # fingers outwards over the shoulder, never up the side of the neck
    elif view.id == "face" and technique.contact in (Contact.PALM, Contact.HEEL):
        tilt = -14.0  # down along the temples, never over the eyes
    elif view.id == "face" and technique.contact is Contact.FINGERTIPS:
        tilt = 10.0  # from the middle of the brow, wrists apart
    elif technique.region == "shoulders" and technique.contact in _OVER_SHOULDER:
        tilt = _OVER_SHOULDER[technique.contact]
    elif technique.region in BESIDE_SPINE and technique.contact is Contact.HEEL:
        tilt = -14.0  # fingers outwards, so that the hand leaves the spine free
    return Scene(view=view, stroke=stroke_of(technique, ground, side), tilt=tilt)


def _forearm_tilt(technique: Technique, view: View) -> float:
    """Forearms lie across the way they travel, hand outwards; two keep their elbows apart."""
    if view.facing is Facing.LYING:
        return 0.0
    if technique.region in ("thighs", "calves", "upper_arms"):
        return -72.0
    if technique.region in BESIDE_SPINE:
        return -8.0  # the elbow clear of the spine
    return -24.0 if technique.lateral else -15.0


def _along_loop(loop: Array, shares: Array) -> Array:
    """Return the places at `shares` of a closed loop, counted by its even steps."""
    at = np.mod(shares, 1.0) * (len(loop) - 1)
    steps = np.arange(len(loop))
    return np.stack([np.interp(at, steps, loop[:, 0]), np.interp(at, steps, loop[:, 1])], axis=1)


def _swell(shares: Array) -> Array:
    """Return 0 at the start of a stroke, 1 at its landing, smoothly."""
    return np.asarray((1 - np.cos(2 * np.pi * shares)) / 2, dtype=np.float64)


def _both_ways(shares: Array) -> Array:
    """Return the loop's share: out in the first half and home in the second, each eased."""
    out = eased(np.minimum(shares * 2, 1.0)) / 2
    home = eased(np.maximum(shares * 2 - 1, 0.0)) / 2
    return np.asarray(out + home, dtype=np.float64)


def _touching(shares: Array) -> Array:
    """Return 1 while a hand is on its way out, 0 while it is carried home, with soft edges."""
    edge = 0.1
    down = np.clip(shares / edge, 0, 1) * np.clip((0.5 + edge - shares) / edge, 0, 1)
    return np.asarray(down * down * (3 - 2 * down), dtype=np.float64)


def _travelling(technique: Technique, hand: HandPlan, shares: Array) -> tuple[Array, Array]:
    shift = {Landing.TURN: 0.0, Landing.CONTACT: -0.5, Landing.DEEPEST: HOME_SHARE - 0.5}
    way = np.mod(shares + shift[technique.landing], 1.0)
    places = _along_loop(hand.loop, _both_ways(way))
    if technique.landing is Landing.DEEPEST:
        return places, 0.35 + 0.65 * _swell(shares)
    if hand.lifts_home or technique.landing is Landing.CONTACT:
        return places, 0.7 * _touching(way)
    return places, 0.5 + 0.2 * np.sin(2 * np.pi * way)


def _in_place(technique: Technique, hand: HandPlan, shares: Array) -> tuple[Array, Array]:
    places = np.repeat(hand.loop[:1], len(shares), axis=0)
    family = technique.family
    if family is Family.PERCUSSION:
        away = np.minimum(np.abs(shares - 0.5) / TOUCH, 1.0)
        return places, np.cos(away * np.pi / 2) ** 2
    if family is Family.VIBRATION and technique.landing is Landing.TURN:
        reach = min(float(technique.path_cm) / 4 or 0.8, 1.6)
        sway = np.stack([-reach * np.cos(2 * np.pi * shares), np.zeros(len(shares))], axis=1)
        return places + sway, np.full(len(shares), 0.6)
    if family is Family.VIBRATION:
        tremble = 0.3 * np.sin(2 * np.pi * TREMBLES * shares)
        sway = np.stack([tremble, np.zeros(len(shares))], axis=1)
        return places + sway, 0.5 + 0.5 * _swell(shares)
    if family.is_held:
        breath = 0.2 * np.sin(2 * np.pi * BREATHS * shares)
        sway = np.stack([np.zeros(len(shares)), -breath], axis=1)
        return places + sway, np.full(len(shares), 0.5)
    return places, 0.12 + 0.88 * _swell(shares) ** 1.4


def _angles(scene: Scene, hand: HandPlan, side: Side, sign: float) -> float:
    """Return the hand's turn in degrees clockwise; `sign` is the picture's side it works on."""
    tilt = scene.tilt + hand.turn
    if scene.view.facing is Facing.LYING:
        return scene.view.head_at(side) * (LYING_TURN + sign * tilt)
    if scene.view.hands_down:
        return sign * (180.0 + tilt)
    return -sign * tilt


def _is_mirrored(scene: Scene, side: Side, sign: float) -> bool:
    if scene.view.facing is Facing.LYING:
        return sign * scene.view.head_at(side) > 0
    return (sign < 0) != scene.view.hands_down


def hand_tracks(
    technique: Technique,
    side: Side,
    position: Position,
    phases: Array,
    landing_phase: float,
    *,
    shape: BodyShape = BodyShape.MEDIUM,
) -> Array:
    """Return every hand at every phase, shape (hands, phases, 5).

    The columns are x, y, angle in degrees, scale and pressing; phases are of one stroke and
    repeat every whole number.
    """
    scene = scene_of(technique, side, position)
    phases = np.atleast_1d(np.asarray(phases, dtype=np.float64))
    shares = shares_of(phases, landing_phase, scene.stroke, technique.landing)
    tracks = np.empty((len(scene.stroke.hands), len(phases), 5))
    for index, hand in enumerate(scene.stroke.hands):
        mine = np.mod(shares - hand.lag, 1.0)
        moves = len(hand.loop) > 2
        if moves and scene.stroke.travels:
            places, pressing = _travelling(technique, hand, mine)
        elif moves:
            places, pressing = _along_loop(hand.loop, mine), 0.4 + 0.6 * _swell(mine)
        else:
            places, pressing = _in_place(technique, hand, mine)
        tracks[index] = _placed(scene, hand, side, shape, places, pressing)
    return tracks


def _placed(
    scene: Scene,
    hand: HandPlan,
    side: Side,
    shape: BodyShape,
    places: Array,
    pressing: Array,
) -> Array:
    view = scene.view
    sign = view.sign(side) * (-1.0 if hand.flips else 1.0)
    px = view.place_px(places * np.asarray([sign, 1.0]), side, shape)
    lift = np.clip(1 - pressing / 0.3, 0, 1)
    track = np.empty((len(px), 5))
    track[:, X] = px[:, 0]
    track[:, Y] = px[:, 1] - lift * 1.4 * view.px_per_cm * view.hand_share
    track[:, ANGLE] = _angles(scene, hand, side, sign)
    track[:, SCALE] = view.hand_scale * (1 + LIFTED * lift - SUNK * pressing)
    track[:, PRESSING] = pressing
    return track


def hand_poses(
    technique: Technique,
    side: Side,
    position: Position,
    phase: float,
    landing_phase: float,
    *,
    shape: BodyShape = BodyShape.MEDIUM,
) -> tuple[HandPose, ...]:
    """Return one or two hands at `phase` of a stroke that lands at `landing_phase`."""
    scene = scene_of(technique, side, position)
    tracks = hand_tracks(technique, side, position, np.asarray([phase]), landing_phase, shape=shape)
    poses = []
    for hand, track in zip(scene.stroke.hands, tracks, strict=True):
        sign = scene.view.sign(side) * (-1.0 if hand.flips else 1.0)
        x, y, angle, scale, pressing = (float(v) for v in track[0])
        poses.append(
            HandPose(
                contact=technique.contact,
                mirrored=_is_mirrored(scene, side, sign),
                x=x,
                y=y,
                angle_degrees=angle,
                scale=scale,
                pressing=pressing,
            )
        )
    return tuple(poses)
