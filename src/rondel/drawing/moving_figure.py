"""The figure with hands that may move, and where each hand is at every part of a stroke."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rondel.drawing.figure import BOX, Look, backdrop, describe, hand_poses, hand_shape, hand_tracks
from rondel.drawing.figures.curves import number
from rondel.drawing.page_svg import escaped
from rondel.model.repertoire import Technique
from rondel.model.words import Position, Side

#: So many places a stroke are enough for a hand to move smoothly at 60 pictures a second, when a
#: stroke lasts a second and places between are drawn on straight lines (measured: 0.4 px at most).
PHASES = 48

_PLAIN = Look()


@dataclass(frozen=True, slots=True, kw_only=True)
class MovingFigure:
    """`svg` holds one group of class `hand` for each hand, placed as at the landing.

    `tracks` are, for each hand, PHASES rows of (x, y, degrees, scale across, scale along), evenly
    through one stroke from its start; `lands` is the phase, 0 to 1, at which it lands.
    """

    svg: str
    tracks: tuple[tuple[tuple[float, ...], ...], ...]
    lands: float


def moving_figure(
    technique: Technique,
    side: Side,
    position: Position,
    landing_phase: float,
    *,
    look: Look = _PLAIN,
) -> MovingFigure:
    """Return the figure of a stroke that lands at `landing_phase` (0 to 1) of its time."""
    about = (technique, side, position)
    phases = np.arange(PHASES) / PHASES
    tracks = hand_tracks(*about, phases, landing_phase, shape=look.shape)
    poses = hand_poses(*about, landing_phase, landing_phase, shape=look.shape)
    shape = hand_shape(technique.contact, look=look)
    hands = "".join(
        f'<g class="hand" transform="translate({number(p.x)} {number(p.y)}) '
        f"rotate({p.angle_degrees:.1f}) "
        f'scale({(-1 if p.mirrored else 1) * p.scale:.3f} {p.scale:.3f})">{shape}</g>'
        for p in poses
    )
    words = escaped(describe(*about))
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="figure" viewBox="0 0 {BOX:.0f} {BOX:.0f}" '
        f'role="img"><title>{words}</title>{backdrop(*about, look=look)}{hands}</svg>'
    )
    rows = tuple(
        tuple(
            (
                round(float(x), 1),
                round(float(y), 1),
                round(float(angle), 1),
                round((-1 if pose.mirrored else 1) * float(scale), 3),
                round(float(scale), 3),
            )
            for x, y, angle, scale, _ in track
        )
        for pose, track in zip(poses, tracks, strict=True)
    )
    return MovingFigure(svg=svg, tracks=rows, lands=landing_phase)
