"""The figure: a body in outline, the region tinted, the way of the hands, and the hands.

Everything is SVG text and numbers in a box of 400 × 400; nothing is read or written. Left and
right are the receiver's: seen from behind their left is at the picture's left, seen from the front
it is at the right.
"""

from __future__ import annotations

import zlib

import numpy as np

from rondel.drawing.figures.arrows import arrow_svg, resting_mark
from rondel.drawing.figures.curves import Array, line_data, number, path_data, pieces_of
from rondel.drawing.figures.hands import SPRITE_BOX, hand_shape
from rondel.drawing.figures.looks import BodyShape, Look, SkinTone
from rondel.drawing.figures.motion import (
    HandPose,
    Scene,
    hand_poses,
    hand_tracks,
    scene_of,
)
from rondel.drawing.figures.scenery import body_svg, panel_clip
from rondel.drawing.figures.strokes import HandPlan
from rondel.drawing.figures.views import BOX, HAND_UNITS, ground_of
from rondel.drawing.figures.wording import describe
from rondel.model.repertoire import Technique
from rondel.model.words import Family, Landing, Position, Side

__all__ = [
    "BOX",
    "HAND_UNITS",
    "SPRITE_BOX",
    "BodyShape",
    "HandPose",
    "Look",
    "SkinTone",
    "backdrop",
    "describe",
    "hand_poses",
    "hand_shape",
    "hand_tracks",
    "path_lines",
    "placed_hand",
    "px_per_cm",
    "still",
]

_PLAIN = Look()


def px_per_cm(technique: Technique, side: Side, position: Position) -> float:
    """Return how many pixels one centimetre of the mean body takes in this figure."""
    return scene_of(technique, side, position).view.px_per_cm


def path_lines(
    technique: Technique, side: Side, position: Position, *, look: Look = _PLAIN
) -> tuple[Array, ...]:
    """Return the way of each hand that travels, in pixels, each of shape (n, 2).

    Every line is closed: it ends where it began.
    """
    scene = scene_of(technique, side, position)
    lines = [_line_px(scene, hand, side, look) for hand in scene.stroke.hands]
    return tuple(line for line in lines if line is not None)


def _line_px(scene: Scene, hand: HandPlan, side: Side, look: Look) -> Array | None:
    if len(hand.loop) <= 2:
        return None
    sign = scene.view.sign(side) * (-1.0 if hand.flips else 1.0)
    return scene.view.place_px(hand.loop * np.asarray([sign, 1.0]), side, look.shape)


def backdrop(technique: Technique, side: Side, position: Position, *, look: Look = _PLAIN) -> str:
    """Return the body, the tinted region and the arrow of the hands' way, as inner SVG."""
    scene = scene_of(technique, side, position)
    body = body_svg(scene.view, side, position, look)
    tint = _region_svg(technique, scene, side, look)
    outline = "".join(
        f'<path d="{line_data(polygon, closed=True)}"/>'
        for polygon in scene.view.outlines(side, look.shape)
    )
    marks = "".join(
        arrow_svg(line, look, travels=scene.stroke.travels)
        for line in path_lines(technique, side, position, look=look)
    ) + "".join(
        resting_mark(pose, technique.family, look)
        for pose in hand_poses(technique, side, position, 0.5, 0.5, shape=look.shape)
        if not scene.stroke.arrows
    )
    name = f"figure-{zlib.crc32((body + outline).encode()):08x}"
    return (
        f'<g><defs>{panel_clip(name)}<clipPath id="{name}-body">{outline}</clipPath></defs>'
        f'<g clip-path="url(#{name})">{body}<g clip-path="url(#{name}-body)">{tint}</g>'
        f"{marks}</g></g>"
    )


def _region_svg(technique: Technique, scene: Scene, side: Side, look: Look) -> str:
    """Return the region's tint, on one side or on both."""
    view, ground = scene.view, ground_of(scene.view, technique.region)
    signs = (view.sign(side),) if side.is_one_sided else (1.0, -1.0)
    paint = look.paint
    parts = []
    for sign in signs:
        run = tuple((sign * x, y) for x, y in ground.patch)
        pieces = pieces_of(((*run, run[0]),))
        px = view.place_px(pieces.reshape(-1, 2), side, look.shape).reshape(-1, 4, 2)
        parts.append(f'<path d="{path_data(px, closed=True)}"/>')
    return f'<g fill="{paint.tint}" opacity="{paint.tint_opacity}">{"".join(parts)}</g>'


def placed_hand(pose: HandPose, *, look: Look = _PLAIN, opacity: float = 1.0) -> str:
    """Return the hand's sprite at its pose, as SVG."""
    mirror = -1.0 if pose.mirrored else 1.0
    fade = "" if opacity >= 1 else f' opacity="{opacity}"'
    return (
        f'<g transform="translate({number(pose.x)} {number(pose.y)}) '
        f"rotate({pose.angle_degrees:.1f}) "
        f'scale({mirror * pose.scale:.3f} {pose.scale:.3f})"{fade}>'
        f"{hand_shape(pose.contact, look=look)}</g>"
    )


def _telling_phase(technique: Technique) -> float:
    """Return the phase to show, of a stroke that lands at one half."""
    is_still = technique.family.is_held or technique.family is Family.VIBRATION
    return 0.1 if technique.landing is Landing.TURN and not is_still else 0.5


def _is_under_hand(line: Array, scene: Scene) -> bool:
    """True for a way so short that the hand hides it."""
    return bool(np.ptp(line, axis=0).max() < 0.66 * HAND_UNITS * scene.view.hand_scale)


def still(technique: Technique, side: Side, position: Position, *, look: Look = _PLAIN) -> str:
    """Return a whole SVG document: body, region, way and hands at a telling moment."""
    scene = scene_of(technique, side, position)
    poses = hand_poses(technique, side, position, _telling_phase(technique), 0.5, shape=look.shape)
    hands = "".join(placed_hand(pose, look=look) for pose in poses)
    above = "".join(
        arrow_svg(line, look, travels=scene.stroke.travels)
        for line in path_lines(technique, side, position, look=look)
        if _is_under_hand(line, scene)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {BOX:.0f} {BOX:.0f}" '
        f'width="{BOX:.0f}" height="{BOX:.0f}" role="img">'
        f"<title>{_escaped(describe(technique, side, position))}</title>"
        f"{backdrop(technique, side, position, look=look)}{hands}{above}</svg>"
    )


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
