"""The giver's hands as small drawings, one for each contact.

All hands are right hands seen from the back, fingers up, thumb to the left, in units in which a
hand is 90 long (`views.HAND_UNITS`). The middle of what touches the body lies at 0, 0. Drawn in
centimetres first: wrist at the origin, middle finger's tip 18.7 above it (ANSUR II hand length,
mean of men and women; breadth 8.3).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np

from rondel.drawing.figures.curves import Array, Contour, Point, bezier, path_data, pieces_of
from rondel.drawing.figures.looks import QUIET, SLEEVE, Look, Paint
from rondel.drawing.figures.views import HAND_CM, HAND_UNITS
from rondel.model.words import Contact

UNIT = HAND_UNITS / HAND_CM
#: Every sprite lies within this box of its own units: left, top, right, bottom.
SPRITE_BOX = (-60.0, -155.0, 60.0, 110.0)
LINE = 2.1

Finger = tuple[Point, Point, Point, float, float]  # root, joint, tip, breadth at root and tip

_OPEN: tuple[Finger, ...] = (
    ((3.0, -8.6), (3.6, -11.9), (4.05, -15.0), 1.75, 1.35),
    ((1.3, -9.6), (1.55, -13.6), (1.75, -17.6), 1.9, 1.5),
    ((-0.65, -9.9), (-0.7, -14.2), (-0.7, -18.7), 1.95, 1.55),
    ((-2.55, -9.3), (-2.85, -13.3), (-3.1, -17.3), 1.9, 1.5),
)
_TOGETHER: tuple[Finger, ...] = (
    ((2.75, -8.8), (2.8, -12.0), (2.7, -15.2), 1.75, 1.4),
    ((1.15, -9.6), (1.2, -13.6), (1.15, -17.6), 1.85, 1.5),
    ((-0.65, -9.9), (-0.65, -14.2), (-0.6, -18.7), 1.9, 1.55),
    ((-2.4, -9.4), (-2.45, -13.4), (-2.35, -17.3), 1.85, 1.5),
)
_ARCHED: tuple[Finger, ...] = (
    ((3.0, -7.6), (4.3, -9.6), (5.0, -12.2), 1.75, 1.2),
    ((1.3, -8.4), (2.0, -11.2), (2.3, -14.4), 1.9, 1.3),
    ((-0.7, -8.7), (-0.8, -11.9), (-0.9, -15.3), 1.95, 1.35),
    ((-2.6, -8.2), (-3.4, -11.0), (-4.0, -14.1), 1.9, 1.3),
)
_THUMB_AWAY: Finger = ((-2.4, -3.0), (-4.5, -6.0), (-5.5, -9.6), 2.5, 1.6)
_THUMB_CLOSE: Finger = ((-2.4, -3.0), (-4.0, -6.2), (-4.5, -9.8), 2.4, 1.6)
_THUMB_UP: Finger = ((-2.6, -3.4), (-4.1, -8.2), (-4.2, -13.6), 2.8, 2.1)
_THUMB_DOWN: Finger = ((-2.5, -2.8), (-4.6, -5.0), (-6.0, -7.8), 2.5, 1.5)

PALM_OUTLINE: Contour = (
    (
        (-2.5, 1.2),
        (-2.75, -0.6),
        (-3.4, -3.6),
        (-3.75, -6.4),
        (-3.6, -9.4),
        (-1.7, -10.7),
        (0.4, -10.8),
        (2.4, -10.2),
        (3.9, -9.0),
        (4.2, -6.0),
        (3.7, -2.8),
        (2.8, -0.4),
        (2.55, 1.2),
    ),
)


def _scaled(points: Array, at: Point) -> Array:
    return np.asarray((points - np.asarray(at)) * UNIT, dtype=np.float64)


def _finger_outline(finger: Finger) -> Array:
    """Return the cubic pieces of a finger, open at its root, with a round tip."""
    root, joint, tip, wide, slim = finger
    spine = np.asarray([root, joint, tip], dtype=np.float64)
    ways = np.diff(spine, axis=0)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    across = np.stack([-ways[:, 1], ways[:, 0]], axis=1)
    middle = (across[0] + across[1]) / 2
    end, way = across[1], ways[1]
    half_joint = (wide * 0.45 + slim * 0.55) / 2 * 1.02
    stop = spine[2] - way * slim * 0.5
    left = [spine[0] - across[0] * wide / 2, spine[1] - middle * half_joint]
    right = [spine[1] + middle * half_joint, spine[0] + across[0] * wide / 2]
    cap = [
        stop - end * slim / 2,
        spine[2] - way * slim * 0.11 - end * slim * 0.31,
        spine[2],
        spine[2] - way * slim * 0.11 + end * slim * 0.31,
        stop + end * slim / 2,
    ]
    return bezier(np.asarray([*left, *cap, *right]))


def _nail(finger: Finger, at: Point) -> str:
    _, joint, tip, _, slim = finger
    way = np.asarray(tip) - np.asarray(joint)
    way /= np.linalg.norm(way)
    side = np.asarray([-way[1], way[0]])
    middle = np.asarray(tip) - way * slim * 0.62
    h, w = slim * 0.36, slim * 0.27
    points = [
        middle - way * h - side * w,
        middle + way * h * 0.5 - side * w,
        middle + way * h + side * 0,
        middle + way * h * 0.5 + side * w,
        middle - way * h + side * w,
    ]
    return path_data(_scaled(bezier(np.asarray(points)), at))


def _shape(d: str, paint: Paint, *, line: float = LINE) -> str:
    return (
        f'<path d="{d}" fill="{paint.skin}" stroke="{paint.line}" stroke-width="{line}" '
        'stroke-linejoin="round" stroke-linecap="round"/>'
    )


def _hint(d: str, paint: Paint, *, width: float = 1.4, opacity: float = 0.7) -> str:
    return (
        f'<path d="{d}" fill="none" stroke="{paint.detail}" stroke-width="{width}" '
        f'stroke-linecap="round" opacity="{opacity}"/>'
    )


def _glow(at_x: float, at_y: float, rx: float, ry: float, paint: Paint) -> str:
    """Return the soft mark of the part that touches, in sprite units about the contact."""
    return (
        f'<ellipse cx="{at_x:.1f}" cy="{at_y:.1f}" rx="{rx:.1f}" ry="{ry:.1f}" '
        f'fill="{paint.shade}" opacity="0.75"/>'
    )


def _stub(at: Point, paint: Paint, length_cm: float, line: float = LINE) -> str:
    """Return the wrist and the beginning of a forearm, of `length_cm`."""
    left: tuple[Point, ...] = ((-2.75, -0.6), (-2.5, 1.4), (-2.65, 3.4), (-2.9, length_cm))
    right: tuple[Point, ...] = ((3.0, length_cm), (2.7, 3.4), (2.5, 1.4), (2.8, -0.4))
    arm = pieces_of((left, (left[-1], right[0]), right, (right[-1], left[0])))
    return _shape(path_data(_scaled(arm, at), closed=True), paint, line=line)


def _wrist(at: Point, paint: Paint) -> str:
    """Return the wrist, closed by a soft cuff."""
    end = 5.2
    cuff: tuple[Point, ...] = (
        (-3.35, end - 1.3), (-3.2, end - 1.7), (0.0, end - 1.35), (3.2, end - 1.7),
        (3.4, end - 1.3), (3.5, end + 0.9), (3.3, end + 1.3), (0.0, end + 1.6),
        (-3.3, end + 1.3), (-3.5, end + 0.9),
    )  # fmt: skip
    cuff_d = path_data(_scaled(bezier(cuff, closed=True), at), closed=True)
    return _stub(at, paint, end) + (
        f'<path d="{cuff_d}" fill="{SLEEVE}" stroke="{QUIET}" stroke-width="1.8" '
        'stroke-linejoin="round"/>'
    )


def _palm_fill(contour: Contour, at: Point, paint: Paint) -> str:
    """Return the inside of the palm, which hides the fingers' roots."""
    pieces = pieces_of(contour)
    middle = np.asarray((0.1, -5.0))
    inner = middle + (pieces - middle) * np.asarray((0.92, 0.93))
    inner[0, 0, 1] = inner[-1, -1, 1] = 1.6  # over the wrist too, so that no line crosses it
    return f'<path d="{path_data(_scaled(inner, at), closed=True)}" fill="{paint.skin}"/>'


def _hand(
    at: Point, paint: Paint, fingers: tuple[Finger, ...], thumb: Finger, *, nails: bool = True
) -> str:
    """Return an open hand: wrist, thumb, palm, fingers, and the palm's inside over their roots."""
    parts = [_wrist(at, paint)]
    parts.append(_shape(path_data(_scaled(_finger_outline(thumb), at)), paint))
    parts.append(_shape(path_data(_scaled(pieces_of(PALM_OUTLINE), at)), paint))
    parts.extend(_shape(path_data(_scaled(_finger_outline(f), at)), paint) for f in fingers)
    parts.append(_palm_fill(PALM_OUTLINE, at, paint))
    parts.append(_thumb_fill(thumb, at, paint))
    if nails:
        parts.extend(_hint(_nail(f, at), paint, width=1.1, opacity=0.55) for f in (*fingers, thumb))
    return "".join(parts)


def _thumb_fill(thumb: Finger, at: Point, paint: Paint) -> str:
    """Return a patch that joins the thumb's root to the palm."""
    root, joint, _, wide, _ = thumb
    a = np.asarray(root) + (np.asarray(joint) - np.asarray(root)) * 0.42
    b = np.asarray((-1.6, -4.4))
    line = path_data(_scaled(bezier(np.asarray([a, b])), at))
    return (
        f'<path d="{line}" fill="none" stroke="{paint.skin}" '
        f'stroke-width="{(wide - 0.55) * UNIT:.1f}" stroke-linecap="round"/>'
    )


def _tendons(at: Point, paint: Paint) -> str:
    """Return small marks over the knuckles, so that the hand reads as seen from its back."""
    marks = ((-2.5, -9.0), (-0.65, -9.7), (1.2, -9.3), (2.9, -8.3))
    arcs = []
    for x, y in marks:
        arc = ((x - 0.45, y + 0.15), (x, y - 0.12), (x + 0.45, y + 0.15))
        arcs.append(_hint(path_data(_scaled(bezier(arc), at)), paint, width=1.2, opacity=0.5))
    return "".join(arcs)


def _palm_hand(paint: Paint) -> str:
    at = (0.1, -7.0)
    return _hand(at, paint, _OPEN, _THUMB_AWAY) + _tendons(at, paint)


def _pad(start: Point, end: Point, breadth_cm: float, at: Point, paint: Paint) -> str:
    """Return the soft mark of a part that touches, along a finger from `start` to `end`."""
    line = path_data(_scaled(bezier((start, end)), at))
    return (
        f'<path d="{line}" fill="none" stroke="{paint.shade}" stroke-linecap="round" '
        f'stroke-width="{breadth_cm * UNIT:.1f}" opacity="0.9"/>'
    )


def _between(start: Point, end: Point, share: float) -> Point:
    return (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share)


def _flat_fingers(paint: Paint) -> str:
    at = (0.1, -13.4)
    hand = _hand(at, paint, _TOGETHER, _THUMB_CLOSE, nails=False)
    pads = "".join(
        _pad(_between(root, joint, 0.55), _between(joint, tip, 0.78), slim * 0.62, at, paint)
        for root, joint, tip, _, slim in _TOGETHER
    )
    return hand + pads + _nails(_TOGETHER, at, paint) + _gaps(at, paint)


def _nails(fingers: tuple[Finger, ...], at: Point, paint: Paint) -> str:
    return "".join(_hint(_nail(f, at), paint, width=1.1, opacity=0.55) for f in fingers)


def _gaps(at: Point, paint: Paint) -> str:
    """Return the lines between fingers that lie side by side."""
    lines = (((-1.5, -10.4), (-1.5, -16.6)), ((0.3, -10.7), (0.32, -17.0)),
             ((2.0, -9.9), (1.98, -14.6)))  # fmt: skip
    return "".join(
        _hint(path_data(_scaled(bezier(line), at)), paint, width=1.6, opacity=0.9) for line in lines
    )


def _fingertips(paint: Paint) -> str:
    at = (0.2, -13.6)
    body = _hand(at, paint, _ARCHED, _THUMB_DOWN, nails=False)
    marks = "".join(
        _pad(_between(joint, tip, 0.68), _between(joint, tip, 0.8), slim * 0.72, at, paint)
        for _, joint, tip, _, slim in _ARCHED
    )
    return body + marks + _tendons((at[0], at[1] - 1.2), paint)


def _heel(paint: Paint) -> str:
    at = (0.1, -2.2)
    glow = _glow(0, 0.5, 12.0, 8.5, paint)
    return _hand(at, paint, _OPEN, _THUMB_AWAY) + _tendons(at, paint) + glow


def _bent_hand(
    paint: Paint, at: Point, reach_cm: float, *, thumb: Finger, wrist: str | None = None
) -> str:
    """Return a closed hand whose first finger bones show `reach_cm` beyond the knuckles."""
    fingers: tuple[Finger, ...] = tuple(
        ((x, -7.2), (x * 1.02, -8.0 - reach_cm * 0.5 + dip), (x * 1.03, -8.4 - reach_cm + dip),
         2.15, 2.0)
        for x, dip in ((3.0, 0.7), (1.05, 0.15), (-0.95, 0.0), (-2.9, 0.35))
    )  # fmt: skip
    parts = [_wrist(at, paint) if wrist is None else wrist]
    parts.append(_shape(path_data(_scaled(pieces_of(_FIST), at)), paint))
    parts.extend(_shape(path_data(_scaled(_finger_outline(f), at)), paint) for f in fingers)
    parts.append(_palm_fill(_FIST, at, paint))
    parts.append(_shape(path_data(_scaled(_finger_outline(thumb), at)), paint))
    parts.append(_thumb_fill(thumb, at, paint))
    return "".join(parts)


_FIST: Contour = (
    (
        (-2.5, 1.2),
        (-2.75, -0.6),
        (-3.6, -3.2),
        (-4.1, -5.6),
        (-3.9, -7.8),
        (-2.0, -8.6),
        (0.2, -8.7),
        (2.4, -8.2),
        (4.0, -7.2),
        (4.3, -5.0),
        (3.7, -2.4),
        (2.8, -0.4),
        (2.55, 1.2),
    ),
)


def _knuckles(paint: Paint) -> str:
    at = (0.1, -10.2)
    thumb: Finger = ((-2.8, -3.2), (-4.9, -5.6), (-5.3, -8.6), 2.4, 1.7)
    glow = "".join(
        _pad((x, y + 0.7), (x, y - 0.3), 1.15, at, paint)
        for x, y in ((-2.98, -10.4), (-0.97, -10.8), (1.07, -10.6), (3.08, -10.0))
    )
    return _bent_hand(paint, at, 4.0, thumb=thumb) + glow + _tendons((at[0], at[1] - 2.0), paint)


def _fist(paint: Paint) -> str:
    at = (0.1, -6.2)
    thumb: Finger = ((-3.0, -3.0), (-4.5, -5.4), (-3.2, -8.6), 2.3, 1.8)
    glow = _glow(0.1 * UNIT, -0.4 * UNIT, 10.5, 7.5, paint)
    return _bent_hand(paint, at, 1.7, thumb=thumb) + glow + _tendons((at[0], at[1] - 1.9), paint)


def _thumb(paint: Paint) -> str:
    at = (-4.15, -12.4)
    body = _bent_hand(paint, at, 1.5, thumb=_THUMB_UP)
    _, joint, tip, _, slim = _THUMB_UP
    pad = _pad(_between(joint, tip, 0.45), _between(joint, tip, 0.8), slim * 0.66, at, paint)
    return body + pad + _nails((_THUMB_UP,), at, paint)


_ARM: Contour = (
    (
        (-2.5, 0.4),
        (-2.6, 2.6),
        (-3.3, 7.0),
        (-4.1, 13.0),
        (-4.5, 18.0),
        (-4.1, 22.6),
        (-2.6, 25.4),
        (0.0, 26.2),
        (2.4, 25.4),
        (4.1, 22.6),
        (4.6, 17.0),
        (4.1, 11.0),
        (3.2, 6.0),
        (2.6, 2.4),
        (2.55, 0.4),
    ),
)


def _forearm(paint: Paint) -> str:
    at = (0.0, 17.0)
    arm = _shape(path_data(_scaled(pieces_of(_ARM), at)), paint)
    thumb: Finger = ((-2.8, -3.2), (-4.5, -5.6), (-4.6, -8.8), 2.4, 1.7)
    hand = _bent_hand(paint, at, 3.6, thumb=thumb, wrist="")
    return arm + hand + _glow(0, 0, 13.0, 25, paint) + _sleeve(at)


def _sleeve(at: Point) -> str:
    """Return the rolled sleeve above the elbow."""
    cloth: tuple[Point, ...] = (
        (-4.7, 24.0), (-4.2, 23.2), (0.0, 24.2), (4.2, 23.2), (4.7, 24.0), (4.9, 28.4),
        (4.5, 29.2), (0.0, 29.7), (-4.5, 29.2), (-4.9, 28.4),
    )  # fmt: skip
    d = path_data(_scaled(bezier(cloth, closed=True), at), closed=True)
    return (
        f'<path d="{d}" fill="{SLEEVE}" stroke="{QUIET}" stroke-width="1.8" '
        'stroke-linejoin="round"/>'
    )


_DRAWN: dict[Contact, Callable[[Paint], str]] = {
    Contact.PALM: _palm_hand,
    Contact.FLAT_FINGERS: _flat_fingers,
    Contact.FINGERTIPS: _fingertips,
    Contact.HEEL: _heel,
    Contact.KNUCKLES: _knuckles,
    Contact.FIST: _fist,
    Contact.FOREARM: _forearm,
    Contact.THUMB: _thumb,
}


@cache
def _drawn(contact: Contact, paint: Paint) -> str:
    return f'<g opacity="0.93">{_DRAWN[contact](paint)}</g>'


def hand_shape(contact: Contact, *, look: Look) -> str:
    """Return the inner SVG of the giver's hand as it makes `contact`."""
    return _drawn(contact, look.giver_paint)


_CREASES: tuple[tuple[Point, ...], ...] = (
    ((-2.9, -8.4), (-0.6, -7.6), (1.8, -7.9), (3.6, -8.0)),
    ((-3.4, -7.0), (-0.8, -6.0), (1.6, -4.9)),
    ((-2.9, -6.6), (-1.2, -4.6), (-0.9, -1.8), (-1.2, 0.0)),
)


def open_palm(paint: Paint, *, line_cm: float) -> str:
    """Return the receiver's open hand, palm to the viewer, its wrist at 0, 0."""
    at, line = (0.0, 0.0), line_cm * UNIT
    parts = [
        _stub(at, paint, 14.0, line),
        _shape(path_data(_scaled(_finger_outline(_THUMB_AWAY), at)), paint, line=line),
        _shape(path_data(_scaled(pieces_of(PALM_OUTLINE), at)), paint, line=line),
    ]
    parts.extend(
        _shape(path_data(_scaled(_finger_outline(f), at)), paint, line=line) for f in _OPEN
    )
    parts.append(_palm_fill(PALM_OUTLINE, at, paint))
    parts.append(_thumb_fill(_THUMB_AWAY, at, paint))
    parts.extend(
        _hint(path_data(_scaled(bezier(run), at)), paint, width=line * 0.75, opacity=0.5)
        for run in _CREASES
    )
    return "".join(parts)
