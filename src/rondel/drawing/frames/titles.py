"""Titles over film: what is done and where, and what comes next, low on the left.

They keep out of the outer twentieth of the picture (graphics safe area of EBU R 95) and out of the
lowest part of it, where players put captions.
"""

from __future__ import annotations

from dataclasses import dataclass

from rondel.drawing.frames.layout import HEIGHT
from rondel.drawing.frames.reel import Piece
from rondel.drawing.frames.shapes import SIZES, Shape
from rondel.drawing.frames.stills import Line, text
from rondel.drawing.frames.words import countdown_says, next_says, passage_names
from rondel.drawing.ink import INK, NOTES, PAPER, PEAK
from rondel.drawing.lettering import Face, broken_into_lines, width_of
from rondel.model.names import SIDE_SAYS
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Role

SAFE = 0.05  # of width and height: EBU R 95, graphics safe area
CAPTIONS = 110 / HEIGHT  # of the height, below titles
_PAD = 22
_BESIDE, _BAR = 20, 6
_NAME_SIZES = (46, 42, 38, 34)
_SIDE_SIZE = 30


@dataclass(frozen=True, slots=True)
class Title:
    """A title, and where its centre stands in the frame."""

    piece: Piece
    x: float
    y: float


def now_title(routine: Routine, index: int, craft: Craft, shape: Shape) -> Title:
    """Return the plain name of the passage of the line at `index`, and its side."""
    passage = routine.line[index]
    name, _ = passage_names(routine, passage, craft)
    accent = PEAK if passage.role is Role.PEAK else INK
    lines = _name_lines(name, accent, _room(shape))
    if passage.technique is not None:
        lines.append(Line(SIDE_SAYS[passage.side], Face.ITALIC, _SIDE_SIZE, NOTES, 40))
    return _title(lines, accent, shape)


def next_title(
    routine: Routine, index: int, craft: Craft, shape: Shape, seconds_left: float
) -> Title | None:
    """Return what comes next, and in how long; None where nothing does."""
    if index + 1 >= len(routine.line):
        return None
    lines = _name_lines(next_says(routine, index, craft), INK, _room(shape), Face.ITALIC)
    lines.append(Line(countdown_says(seconds_left), Face.SEMIBOLD, _SIDE_SIZE, INK, 40))
    return _title(lines, INK, shape)


def _room(shape: Shape) -> float:
    """Return how wide the words of a title may be."""
    width = SIZES[shape][0]
    return min(width * (1 - 2 * SAFE), 760) - 2 * _PAD - _BESIDE


def _name_lines(name: str, colour: str, room: float, face: Face = Face.SEMIBOLD) -> list[Line]:
    for size in _NAME_SIZES:
        if width_of(name, face, size) <= room:
            return [Line(name, face, size, colour, size)]
    size = _NAME_SIZES[-1]
    rows = broken_into_lines(name, face, size, room)[:2]
    return [Line(row, face, size, colour, size * 1.15) for row in rows]


def _title(lines: list[Line], accent: str, shape: Shape) -> Title:
    """Return `lines` on paper that lets film through a little, with a bar of `accent` beside."""
    wide = max(width_of(line.words, line.face, line.size) for line in lines)
    width = _even(wide + 2 * _PAD + _BESIDE)
    height = _even(sum(line.drop for line in lines) + 2 * _PAD)
    drawn, y = "", _PAD - 6.0
    for line in lines:
        y += line.drop
        drawn += text(line, _PAD + _BESIDE, y)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}">'
        f'<rect width="{width}" height="{height}" rx="10" fill="{PAPER}" fill-opacity="0.88"/>'
        f'<rect x="{_PAD - 6}" y="{_PAD}" width="{_BAR}" height="{height - 2 * _PAD}" rx="3" '
        f'fill="{accent}"/>{drawn}</svg>'
    )
    across, down = SIZES[shape]
    left, bottom = across * SAFE, down * (1 - CAPTIONS)
    piece = Piece(svg=svg, width=width, height=height)
    return Title(piece, round(left + width / 2, 1), round(bottom - height / 2, 1))


def _even(size: float) -> int:
    return 2 * -(-int(size + 0.999) // 2)
