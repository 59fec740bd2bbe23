"""The figure and the hands of a passage, in frame pixels. (Placeholder until the figure is there.)"""

from __future__ import annotations

import math

from rondel.drawing.frames.layout import FIGURE, FIGURE_SCALE
from rondel.drawing.frames.reel import Piece, Placed
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage


def figure_svg(technique: Technique | None, passage: Passage) -> str:
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 400">'
        '<path d="M150 20 L250 20 L250 70 L340 110 L320 390 L80 390 L60 110 L150 70 Z" '
        'fill="#e8d0b8" stroke="#b08468" stroke-width="2"/></svg>'
    )


def hand_pieces(technique: Technique, passage: Passage) -> tuple[Piece, ...]:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 80 100">'
        '<ellipse cx="40" cy="50" rx="30" ry="42" fill="#fbf8f1" stroke="#22303c" '
        'stroke-width="3"/></svg>'
    )
    return (Piece(svg=svg, width=114, height=142),)


def hands_at(
    technique: Technique, passage: Passage, phase: float, first_piece: int
) -> tuple[Placed, ...]:
    up = 0.5 - 0.5 * math.cos(2 * math.pi * phase)
    y = 330 - 200 * up
    return tuple(
        Placed(first_piece, FIGURE.x + FIGURE_SCALE * x, FIGURE.y + FIGURE_SCALE * y)
        for x in (150.0, 250.0)
    )
