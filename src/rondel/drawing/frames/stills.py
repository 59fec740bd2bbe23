"""The part of a frame that stands still: paper, figure, words, and a piece of the page."""

from __future__ import annotations

from dataclasses import dataclass
from xml.sax.saxutils import escape

from rondel.drawing.frames.layout import (
    COLUMN,
    HEIGHT,
    LANDING_CENTRE,
    LANDING_RADIUS,
    LEAF,
    NEXT_BASELINE,
    OVER_CENTRE,
    WIDTH,
    Box,
)
from rondel.drawing.frames.reel import Inlay
from rondel.drawing.frames.words import (
    CLOSING_SAYS,
    CONTACT_SAYS,
    OPEN_SAYS,
    next_says,
    passage_names,
    role_says,
)
from rondel.drawing.ink import INK, NOTES, PAPER, PEAK, TINT
from rondel.drawing.lettering import FAMILY, Face, broken_into_lines, width_of
from rondel.model.names import SIDE_SAYS
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import CONTACT_NAME, PRESSURE_SAYS, Layer, Role

#: The drop that shows pressure: as long as this, and as thick as the pressure, as on the page.
DROP_LENGTH = 92
DROP_THICKNESS = (3, 6, 12, 20, 29, 38)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of words: its face, its size, the distance of its baseline from the one before."""

    words: str
    face: Face
    size: float
    colour: str
    drop: float


def text(line: Line, x: float, y: float, *, anchor: str = "start") -> str:
    """Return one line of words as SVG."""
    style = ' font-style="italic"' if line.face.is_italic else ""
    weight = ' font-weight="600"' if line.face.is_bold else ""
    return (
        f'<text x="{x:g}" y="{y:g}" font-family="{FAMILY}" font-size="{line.size:g}"'
        f'{style}{weight} fill="{line.colour}" text-anchor="{anchor}">{escape(line.words)}</text>'
    )


def stacked(lines: list[Line], x: float, top: float) -> tuple[str, float]:
    """Return lines one under the other, and the baseline of the last."""
    drawn, y = [], top
    for line in lines:
        y += line.drop
        drawn.append(text(line, x, y))
    return "".join(drawn), y


def name_lines(name: str, colour: str) -> list[Line]:
    """Return a name as large as the column takes: one line of 44 to 64 pixels, or two of 46."""
    for size in (64, 58, 52, 48, 44):
        if width_of(name, Face.SEMIBOLD, size) <= COLUMN.width:
            return [Line(name, Face.SEMIBOLD, size, colour, size + 6)]
    rows = broken_into_lines(name, Face.SEMIBOLD, 46, COLUMN.width)[:3]
    return [Line(row, Face.SEMIBOLD, 46, colour, 52) for row in rows]


def paragraph(words: str, face: Face, size: float, colour: str, gap: float) -> list[Line]:
    """Return a sentence in lines of the column; `gap` stands above the first."""
    rows = broken_into_lines(words, face, size, COLUMN.width)
    return [
        Line(row, face, size, colour, size * 1.28 + (gap if i == 0 else 0))
        for i, row in enumerate(rows)
    ]


def grounds(*, is_home: bool) -> tuple[tuple[Box, str], ...]:
    """Return the paper; the leaf of the figure is tinted where the refrain is."""
    paper = (Box(0, 0, WIDTH, HEIGHT), PAPER)
    return (paper, (LEAF, TINT)) if is_home else (paper,)


def inlay_of(content: str, box: Box) -> Inlay:
    """Return what is given in pixels of the frame as a drawing of the part of it that is `box`."""
    x, y, width, height = box
    return Inlay(
        svg=(
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x} {y} {width} {height}">'
            f"{content}</svg>"
        ),
        box=box,
    )


def pressure_mark(pressure: int, x: float, y: float, colour: str) -> str:
    """Return a drop lying on a thin line: as thick as the pressure; a bare line for stillness."""
    half = DROP_THICKNESS[pressure] / 2
    swell = (
        f'<path d="M{x:g} {y:g} C{x + DROP_LENGTH * 0.3:g} {y - half * 1.3:g} '
        f"{x + DROP_LENGTH * 0.62:g} {y - half * 1.34:g} {x + DROP_LENGTH:g} {y:g} "
        f"C{x + DROP_LENGTH * 0.62:g} {y + half * 1.34:g} {x + DROP_LENGTH * 0.3:g} "
        f'{y + half * 1.3:g} {x:g} {y:g}Z" fill="{colour}"/>'
    )
    return (
        f'<line x1="{x:g}" y1="{y:g}" x2="{x + DROP_LENGTH:g}" y2="{y:g}" stroke="{colour}" '
        f'stroke-width="2"/>{swell}'
    )


def landing_ring(centre: tuple[int, int], colour: str) -> str:
    """Return the ring that is filled whenever a stroke lands."""
    return (
        f'<circle cx="{centre[0]}" cy="{centre[1]}" r="{LANDING_RADIUS + 4}" fill="none" '
        f'stroke="{colour}" stroke-width="2"/>'
    )


def passage_column(routine: Routine, index: int, craft: Craft, on_top: str = "") -> str:
    """Return the words of the passage of the line at `index`; `on_top` as in `role_says`."""
    passage = routine.line[index]
    accent = PEAK if passage.role is Role.PEAK else INK
    name, under = passage_names(routine, passage, craft)
    lines = [
        Line(role_says(passage, on_top), Face.ITALIC, 29, NOTES, 38),
        *name_lines(name, accent),
    ]
    if under:
        lines += paragraph(under, Face.ITALIC, 28, NOTES, 6)
    if passage.technique is None:
        for sentence in OPEN_SAYS:
            lines += paragraph(sentence, Face.REGULAR, 30, INK, 18)
        return stacked(lines, COLUMN.x, COLUMN.y)[0] + _next(routine, index, craft)
    technique = craft.technique(passage.technique)
    lines.append(Line(SIDE_SAYS[passage.side], Face.SEMIBOLD, 38, INK, 58))
    drawn, y = stacked(lines, COLUMN.x, COLUMN.y)
    drawn += _contact(passage, technique, y) + _pressure(passage, y + 52, accent)
    return drawn + _how(technique, y + 74) + _next(routine, index, craft)


def _contact(passage: Passage, technique: Technique, y: float) -> str:
    """Return with what part of the hand, on the line of the side."""
    x = COLUMN.x + width_of(SIDE_SAYS[passage.side], Face.SEMIBOLD, 38)
    room = COLUMN.x + COLUMN.width - x
    wanted = (f", {CONTACT_SAYS[technique.contact]}", f", {CONTACT_NAME[technique.contact]}")
    says = next((w for w in wanted if width_of(w, Face.REGULAR, 30) <= room), wanted[-1])
    return text(Line(says, Face.REGULAR, 30, INK, 0), x, y)


def _how(technique: Technique, top: float) -> str:
    """Return how it is done, in full where there is room, or in short, or not at all."""
    room = NEXT_BASELINE - 48 - top
    for words in (technique.how, technique.say):
        lines = paragraph(words, Face.ITALIC, 28, NOTES, 0)
        if sum(line.drop for line in lines) <= room:
            return stacked(lines, COLUMN.x, top)[0]
    return ""


def _pressure(passage: Passage, y: float, colour: str) -> str:
    words = Line(PRESSURE_SAYS[passage.pressure], Face.REGULAR, 30, INK, 0)
    return pressure_mark(passage.pressure, COLUMN.x, y - 9, colour) + text(
        words, COLUMN.x + DROP_LENGTH + 20, y
    )


def _next(routine: Routine, index: int, craft: Craft) -> str:
    says = next_says(routine, index, craft)
    room = COLUMN.width - 120
    size = next((s for s in (33, 31, 29) if width_of(says, Face.ITALIC, s) <= room), 28)
    return text(Line(says, Face.ITALIC, size, INK, 0), COLUMN.x, NEXT_BASELINE)


def card_column(title: str, above: str, sentences: tuple[str, ...], now: str) -> str:
    """Return a card of the opening: what is said before hands work, and what they do meanwhile."""
    lines = [Line(above, Face.ITALIC, 29, NOTES, 38), *name_lines(title, INK)]
    for sentence in sentences:
        lines += paragraph(sentence, Face.REGULAR, 30, INK, 16)
    drawn, _ = stacked(lines, COLUMN.x, COLUMN.y)
    foot = text(Line(now, Face.ITALIC, 29, NOTES, 0), COLUMN.x, COLUMN.y + COLUMN.height - 4)
    return drawn + foot


def closing_column(title: str) -> str:
    """Return the last words, which leave the hands where they are."""
    lines = name_lines(title, INK)
    for sentence in CLOSING_SAYS:
        lines += paragraph(sentence, Face.ITALIC, 32, INK, 18)
    return stacked(lines, COLUMN.x, COLUMN.y + 90)[0]


def rings(passages: tuple[Passage, ...]) -> str:
    """Return the empty landing rings of passages that sound together."""
    drawn = ""
    for passage in passages:
        if passage.technique is not None:
            centre = OVER_CENTRE if passage.layer is Layer.OVER else LANDING_CENTRE
            drawn += landing_ring(centre, PEAK if passage.role is Role.PEAK else NOTES)
    return drawn
