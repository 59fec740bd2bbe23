"""The head and foot of a page: title, sentence, the key to its marks, consent and cautions."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.drawing import ink
from rondel.drawing.lettering import Face, broken_into_lines, evenly_broken, width_of
from rondel.drawing.marks import Pen, Shape, Stroke, draw, lane_of, shape_of
from rondel.drawing.page_body import technique_of
from rondel.drawing.page_measure import LINES_LEFT
from rondel.drawing.page_svg import english_in, tag, tongue, words
from rondel.drawing.page_words import foot_sentences, sentence_under_title
from rondel.model.names import language_of
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.slip import slip_plan
from rondel.model.spans import audible_beats
from rondel.model.words import Layer, Role, Side

KEY_SIZE = 7.4
FOOT_SIZE = 7.2
FOOT_LEADING = 9.4
SHORT_HEAD = 16.0
SAMPLE_POINTS = 17.0  # the width of a sample mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A drawn block and how far down it reaches from where it began."""

    svg: str
    height: float


def head(routine: Routine, craft: Craft, *, top: float, right: float) -> Block:
    """Return title, sentence and key, beginning at the height `top`."""
    room = right - LINES_LEFT
    parts: list[str] = []
    english: list[str] = []
    y = top
    size = 30.0
    while size > 16 and width_of(routine.title, Face.REGULAR, size) > room:
        size -= 1
    for i, text in enumerate(broken_into_lines(routine.title, Face.REGULAR, size, room)):
        y += size * (1.14 if i else 0.95)
        parts.append(words(text, x=LINES_LEFT, y=y, face=Face.REGULAR, size=size, fill=ink.INK))
    y += 5
    for text in broken_into_lines(sentence_under_title(routine, craft), Face.ITALIC, 11.6, room):
        y += 14.5
        english.append(words(text, x=LINES_LEFT, y=y, face=Face.ITALIC, size=11.6, fill=ink.NOTES))
    y += 9
    block = _flowed(_key_items(routine, craft), y, right)
    inside = _in_english(routine, "\n".join([*english, block.svg]))
    return Block(svg="\n".join([*parts, inside]), height=y - top + block.height)


def _in_english(routine: Routine, svg: str) -> str:
    """Return a part in English, which says so where the drawing is in another language."""
    language = english_in(language_of(routine))
    return svg if language is None else f"<g{tongue(language)}>\n{svg}\n</g>"


def short_head(routine: Routine, sheet: int, sheets: int, *, top: float, right: float) -> Block:
    """Return the head of a further sheet: the title small, and which sheet it is."""
    note = f"sheet {sheet} of {sheets}"
    size = 11.6
    room = right - LINES_LEFT - width_of(note, Face.ITALIC, 9.0) - 12
    title = broken_into_lines(routine.title, Face.REGULAR, size, room)[0] if routine.title else ""
    x = right - width_of(note, Face.ITALIC, 9.0)
    return Block(
        svg=words(title, x=LINES_LEFT, y=top + 11, face=Face.REGULAR, size=size, fill=ink.INK)
        + _in_english(
            routine, words(note, x=x, y=top + 11, face=Face.ITALIC, size=9.0, fill=ink.NOTES)
        ),
        height=SHORT_HEAD,
    )


def foot(routine: Routine, craft: Craft, *, top: float, right: float) -> Block:
    """Return the way back for who is lost, consent and cautions, from the height `top` on."""
    parts, y = [], top
    first, *others = foot_sentences(routine.brief, craft)
    # In one paragraph with consent: a line of its own would push long routines to a further sheet.
    for sentence in (f"{slip_plan(routine, craft)} {first}".strip(), *others):
        for text in evenly_broken(sentence, Face.REGULAR, FOOT_SIZE, right - LINES_LEFT):
            y += FOOT_LEADING
            parts.append(
                words(text, x=LINES_LEFT, y=y, face=Face.REGULAR, size=FOOT_SIZE, fill=ink.NOTES)
            )
        y += 1.6
    inside = '<g class="foot">\n' + "\n".join(parts) + "\n</g>"
    return Block(svg=_in_english(routine, inside), height=y - top + 2)


#: An item of the key: a shape to show, or None, and its words.
KeyItem = tuple[Shape | str | None, str]


def _key_items(routine: Routine, craft: Craft) -> list[KeyItem]:
    """Return what the key explains: only what is on this page."""
    items: list[KeyItem] = [
        (
            None,
            "above the line: their left · below: their right · on it: both · "
            "thicker: more pressure",
        ),
    ]
    if audible_beats(routine):
        items.append(("beats", "the beat you can hear"))
    if routine.refrains:
        items.append(("tint", "the refrain"))
        # Composed music swells there; a brought track does as it likes.
        is_composed = routine.music.kind == "composed"
        items.append(("wedge", "the music leads on" if is_composed else "home or the peak is near"))
    if any(p.role is Role.PEAK for p in routine.passages):
        items.append(("peak", "the peak"))
    if any(p.kept for p in routine.passages):
        items.append((None, "◊ asked for"))
    used = [shape_of(technique_of(p, craft)) for p in routine.passages]
    items.extend((shape, shape.value) for shape in Shape if shape in used)
    return items


def _flowed(items: list[KeyItem], top: float, right: float) -> Block:
    """Return the key's items set one after another, broken into rows where they would not fit.

    Words alone that are wider than a row are broken too.
    """
    parts, x, y = [], LINES_LEFT, top + 9
    for sample, text in _broken(items, right - LINES_LEFT):
        width = width_of(text, Face.REGULAR, KEY_SIZE)
        needs = width + (SAMPLE_POINTS + 4 if sample else 0)
        if x > LINES_LEFT and x + needs > right:
            x, y = LINES_LEFT, y + 13.0
        if sample is not None:
            parts.append(_sample(sample, x, y - 2.5))
            x += SAMPLE_POINTS + 4
        parts.append(words(text, x=x, y=y, face=Face.REGULAR, size=KEY_SIZE, fill=ink.NOTES))
        x += width + 10
    return Block(svg='<g class="key">\n' + "\n".join(parts) + "\n</g>", height=y - top + 8)


def _broken(items: list[KeyItem], room: float) -> list[KeyItem]:
    """Return `items` with words alone that are wider than `room` broken between their parts."""
    found: list[KeyItem] = []
    for sample, text in items:
        row = ""
        for part in text.split(" · "):
            longer = f"{row} · {part}" if row else part
            if row and sample is None and width_of(longer, Face.REGULAR, KEY_SIZE) > room:
                found.append((sample, row))
                longer = part
            row = longer
        found.append((sample, row))
    return found


def _sample(sample: Shape | str, x: float, y: float) -> str:
    end = x + SAMPLE_POINTS
    if isinstance(sample, Shape):
        return _sample_mark(sample, x, end, y)
    if sample == "beats":
        d = "".join(f"M{x + 0.7 + 3.9 * i:.2f} {y:.2f}h0" for i in range(5))
        return tag(
            "path", d=d, stroke=ink.NOTES, stroke_width=1.3, stroke_linecap="round", fill="none"
        )
    if sample == "tint":
        d = f"M{x:.2f} {y - 4:.2f}v8M{end:.2f} {y - 4:.2f}v8"
        return tag(
            "rect", x=float(x), y=float(y - 4), width=SAMPLE_POINTS, height=8.0, fill=ink.TINT
        ) + tag("path", d=d, stroke=ink.NOTES, stroke_width=0.8, fill="none")
    if sample == "wedge":
        return tag(
            "path",
            d=f"M{x:.2f} {y + 2:.2f}H{end:.2f}v-3Z",
            fill=ink.BLUE,
        )
    return tag(
        "path", d=f"M{x:.2f} {y + 2:.2f}H{end:.2f}", stroke=ink.PEAK, stroke_width=0.9, fill="none"
    )


def _sample_mark(shape: Shape, x: float, end: float, y: float) -> str:
    """Return a small sample of a mark, two or three strokes of light pressure."""
    count = {Shape.TICK: 5, Shape.RING: 3, Shape.DASH: 3, Shape.WAVE: 1, Shape.ARC: 1}.get(shape, 1)
    step = (end - x) / count
    lands = {Shape.ARC: 0.5, Shape.DROP: 0.6, Shape.RING: 0.5}.get(shape, 0.0)
    strokes = tuple(
        Stroke(index=i, start=x + i * step, land=x + (i + lands) * step, end=x + (i + 1) * step)
        for i in range(count)
    )
    tall = 5.0
    pen = Pen(
        lane=lane_of(Side.BOTH, Layer.ONLY, tall),
        pressure=2 if shape is Shape.DROP else 1,
        tall=tall if shape is not Shape.RING else 6.0,
        left=x,
        right=end,
        y=y,
        weight=0.8,
    )
    mark = draw(shape, strokes, pen)
    if mark.filled:
        return tag("path", d=mark.d, fill=ink.INK)
    return tag(
        "path",
        d=mark.d,
        fill="none",
        stroke=ink.INK,
        stroke_width=float(max(mark.width, 0.8)),
        stroke_linecap="round",
        stroke_dasharray=mark.dashes,
    )
