"""The figure and the hands of a passage, in frame pixels."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from rondel.drawing.figure import SPRITE_BOX, Look, backdrop, hand_poses, hand_shape, hand_tracks
from rondel.drawing.figures.looks import MAT
from rondel.drawing.figures.scenery import body_svg
from rondel.drawing.figures.views import view_of
from rondel.drawing.frames.layout import FIGURE, FIGURE_CORNER, FIGURE_SCALE
from rondel.drawing.frames.reel import Piece, Placed
from rondel.drawing.ink import INK, PEAK
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage
from rondel.model.words import Role, Side

_LEFT, _TOP, _RIGHT, _BOTTOM = SPRITE_BOX
#: From where a hand touches to the middle of its drawing, in the drawing's units.
_MIDDLE_X, _MIDDLE_Y = (_LEFT + _RIGHT) / 2, (_TOP + _BOTTOM) / 2


@dataclass(frozen=True, kw_only=True)
class HandsInFrames:
    """The hands of one passage in a row of frames: `tracks` has the shape (hands, frames, 5)."""

    piece: Piece
    mirrored: tuple[bool, ...]
    unit: float
    tracks: NDArray[np.float64]

    def placed(self, row: int, piece: int, opacity: float) -> tuple[Placed, ...]:
        """Return the hands in the frame `row`, as pieces numbered `piece`."""
        found = []
        for hand, mirrored in enumerate(self.mirrored):
            x, y, degrees, scale, _ = (float(v) for v in self.tracks[hand, row])
            size = scale * FIGURE_SCALE / self.unit
            turn = np.deg2rad(degrees)
            across = (-_MIDDLE_X if mirrored else _MIDDLE_X) * scale * FIGURE_SCALE
            down = _MIDDLE_Y * scale * FIGURE_SCALE
            found.append(
                Placed(
                    piece,
                    FIGURE.x
                    + x * FIGURE_SCALE
                    + float(np.cos(turn) * across - np.sin(turn) * down),
                    FIGURE.y
                    + y * FIGURE_SCALE
                    + float(np.sin(turn) * across + np.cos(turn) * down),
                    degrees,
                    -size if mirrored else size,
                    size,
                    opacity,
                )
            )
        return tuple(found)


def landing_phase(passage: Passage) -> float:
    """Return the share of a stroke at which it lands."""
    return float(passage.first_landing_beat / passage.beats_per_stroke) % 1.0


def hands_in_frames(
    technique: Technique, passage: Passage, phases: NDArray[np.float64], look: Look
) -> HandsInFrames:
    """Return the hands of `passage` at each of `phases`, 0 to 1 of a stroke."""
    about = technique, passage.side, passage.position
    lands = landing_phase(passage)
    still = hand_poses(*about, 0.0, lands, shape=look.shape)
    tracks = hand_tracks(*about, phases, lands, shape=look.shape)
    # Drawn once at its usual size, so that what is scaled later is scaled by a tenth at most.
    unit = max(pose.scale for pose in still) * FIGURE_SCALE
    return HandsInFrames(
        piece=_hand_piece(technique, unit, look),
        mirrored=tuple(pose.mirrored for pose in still),
        unit=unit,
        tracks=tracks,
    )


def are_seen_together(craft: Craft, one: Passage, other: Passage) -> bool:
    """True where the hands of both passages belong to one view of the body."""
    if one.technique is None or other.technique is None:
        return False
    views = [
        view_of(craft.technique(p.technique or "").region, p.position, p.side) for p in (one, other)
    ]
    return views[0] == views[1]


def _hand_piece(technique: Technique, unit: float, look: Look) -> Piece:
    width, height = round((_RIGHT - _LEFT) * unit), round((_BOTTOM - _TOP) * unit)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{_LEFT:g} {_TOP:g} '
        f'{_RIGHT - _LEFT:g} {_BOTTOM - _TOP:g}" preserveAspectRatio="none">'
        f"{hand_shape(technique.contact, look=look)}</svg>"
    )
    return Piece(svg=svg, width=width, height=height)


def look_of(passage: Passage) -> Look:
    """Return the look of a passage: the path has the one warm colour at the peak."""
    return Look(accent=PEAK if passage.role is Role.PEAK else INK)


@lru_cache(maxsize=64)
def figure_svg(technique: Technique | None, passage: Passage, ground: str) -> str:
    """Return the body with the region and the way of the hands, on a card with round corners.

    An open passage shows the body alone. `ground` is the colour around the card.
    """
    look = look_of(passage)
    if technique is not None:
        inner = backdrop(technique, passage.side, passage.position, look=look)
    else:
        view = view_of("back", passage.position, Side.BOTH)
        inner = body_svg(view, Side.BOTH, passage.position, look)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 400">'
        f'<rect width="400" height="400" fill="{MAT}"/>{inner}{_corners(ground)}</svg>'
    )


def _corners(ground: str) -> str:
    """Return what lies outside a card of 400 × 400 with round corners, painted over.

    Drawn rather than clipped, because clipping takes as long as the whole drawing.
    """
    r = FIGURE_CORNER / FIGURE_SCALE
    side = 400 - r
    return (
        f'<path fill="{ground}" fill-rule="evenodd" d="M-1 -1H401V401H-1Z'
        f"M{r:g} 0H{side:g}A{r:g} {r:g} 0 0 1 400 {r:g}V{side:g}A{r:g} {r:g} 0 0 1 {side:g} 400"
        f'H{r:g}A{r:g} {r:g} 0 0 1 0 {side:g}V{r:g}A{r:g} {r:g} 0 0 1 {r:g} 0Z"/>'
    )
