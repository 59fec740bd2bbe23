"""The marks of a stroke: an arrow along its way, or a sign of what a resting hand does."""

from __future__ import annotations

import numpy as np

from rondel.drawing.figures.curves import Array, line_data, number
from rondel.drawing.figures.looks import PAPER, Look
from rondel.drawing.figures.motion import HandPose
from rondel.model.words import Family

WIDTH = 3.2
EDGE = 3.0  # paper around the line, so that it stands out on every tone
BARB = 10.0

_STYLE = 'fill="none" stroke-linecap="round" stroke-linejoin="round"'


def _edged(paths: str, look: Look, *, width: float = WIDTH, opacity: float = 1.0) -> str:
    return (
        f'<g {_STYLE} stroke="{PAPER}" stroke-width="{width + EDGE}" opacity="0.85">{paths}</g>'
        f'<g {_STYLE} stroke="{look.accent}" stroke-width="{width}" opacity="{opacity}">'
        f"{paths}</g>"
    )


def _barbs(line: Array, at: int) -> Array:
    """Return an open arrow head at point `at` of `line`, pointing the way the line runs."""
    back = at
    while back > 0 and np.linalg.norm(line[at] - line[back]) < BARB * 0.8:
        back -= 1
    way = line[at] - line[back]
    way = way / max(float(np.linalg.norm(way)), 1e-9)
    side = np.asarray([-way[1], way[0]])
    foot = line[at] - way * BARB
    return np.asarray([foot + side * BARB * 0.6, line[at], foot - side * BARB * 0.6])


def arrow_svg(line: Array, look: Look, *, travels: bool) -> str:
    """Return the way of one hand: an arrow out and a dotted way home, or a round with a head.

    `line` is closed, and its middle point is the far turn.
    """
    middle = len(line) // 2
    head = f'<path d="{line_data(_barbs(line, middle))}"/>'
    if not travels:
        return _edged(f'<path d="{line_data(line, closed=True)}"/>{head}', look)
    dots = f'<path d="{line_data(line[middle:])}" {_STYLE} stroke-dasharray="0.1 7"'
    home = (
        f'{dots} stroke="{PAPER}" stroke-width="5" opacity="0.8"/>'
        f'{dots} stroke="{look.accent}" stroke-width="2.8"/>'
    )
    return home + _edged(f'<path d="{line_data(line[: middle + 1])}"/>{head}', look)


def _arc(pose: HandPose, radius: float, side: float, spread: float) -> str:
    """Return an arc about the hand, on the picture's left (-1) or right (+1) of it."""
    a = np.radians(np.asarray([-spread, spread]))
    x = pose.x + side * radius * np.cos(a)
    y = pose.y + radius * np.sin(a)
    sweep = 1 if side > 0 else 0
    return (
        f'<path d="M{number(x[0])} {number(y[0])}A{number(radius)} {number(radius)} 0 0 {sweep} '
        f'{number(x[1])} {number(y[1])}"/>'
    )


def _wave(pose: HandPose, away: float, reach: float) -> str:
    """Return a small upright wave beside the hand."""
    x, top = pose.x + away, pose.y - reach
    step = reach / 2
    words = [f"M{number(x)} {number(top)}"]
    for index in range(4):
        bend = 4.0 if index % 2 == 0 else -4.0
        words.append(f"q{number(bend)} {number(step / 2)} 0 {number(step)}")
    return f'<path d="{"".join(words)}"/>'


def resting_mark(pose: HandPose, family: Family, look: Look) -> str:
    """Return what a hand does in place: rings to press, waves to tremble, ticks to drum.

    A hand that only rests has no mark.
    """
    if family.is_held:
        return ""
    near = 42.0 * pose.scale / 1.1
    if family is Family.VIBRATION:
        waves = "".join(_wave(pose, away, 15.0) for away in (-near - 4, near + 4))
        return _edged(waves, look, width=2.4)
    if family is Family.PERCUSSION:
        ticks = "".join(
            f'<path d="M{number(pose.x + np.cos(a) * near)} {number(pose.y + np.sin(a) * near)}'
            f"L{number(pose.x + np.cos(a) * (near + 11))} "
            f'{number(pose.y + np.sin(a) * (near + 11))}"/>'
            for a in np.radians(np.asarray([-35.0, 0.0, 35.0, 145.0, 180.0, 215.0]))
        )
        return _edged(ticks, look, width=2.6)
    arcs = "".join(
        _arc(pose, radius, side, spread)
        for radius, spread in ((near, 34.0), (near + 10, 26.0))
        for side in (-1.0, 1.0)
    )
    return _edged(arcs, look, width=2.4)
