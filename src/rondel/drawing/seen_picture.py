"""The picture of what was seen in a take: stills, how the hands move, and where strokes land."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rondel.drawing import ink
from rondel.drawing.lettering import Face, broken_into_lines, width_of
from rondel.drawing.page_lines import Line, line_spans, pieces, set_lines
from rondel.drawing.page_measure import (
    LINES_LEFT,
    MARGIN_BOTTOM,
    MARGIN_RIGHT,
    MARGIN_TOP,
    TIMES_RIGHT,
)
from rondel.drawing.page_svg import document, num, tag, words
from rondel.drawing.seen_words import KIND_SAYS, motion_says, seen_sentences
from rondel.model.take import Seen, SeenStretch
from rondel.model.time import as_minutes

WIDTH = 595.28  # points: an A4 sheet, as high as it needs to be
STILLS_A_LINE = 8
STILL_HIGH = 38.0
STILLS_UP = 66.0  # from the base of a line to the top of its stills
CURVE_HIGH = 13.0
PITCH = 112.0
TICKS = 17.0
LABEL_SIZE = 8.0
MARKS_A_LINE = 6  # times told along a line, so that moments can be read off it
MARK_SIZE = 6.5
#: Up to so many seconds, a line holds so many.
LINE_SECONDS = ((240.0, 30.0), (600.0, 60.0), (2400.0, 180.0), (float("inf"), 600.0))
KEY = "curve: the hands, to and fro · ticks: strokes land · shaded: a slip · upright: other motion"
KEY_AWAY = " · broken frame: hands are out of the picture"


@dataclass(frozen=True, slots=True, kw_only=True)
class Still:
    """A picture of the take at `second`: its address (a data URI) and its shape."""

    second: float
    address: str
    width: int
    height: int


def per_line(seconds: float) -> float:
    """Return how many seconds a line holds."""
    return next(held for until, held in LINE_SECONDS if seconds <= until)


def still_seconds(seconds: float) -> tuple[float, ...]:
    """Return the seconds of which a still is shown."""
    step = per_line(seconds) / STILLS_A_LINE
    return tuple(step * (n + 0.5) for n in range(math.ceil(seconds / step - 0.5)))


def draw_seen(
    seen: Seen, title: str, stills: Sequence[Still], names: Mapping[str, str] | None = None
) -> str:
    """Return the picture as SVG, with all of it told in its description; sizes in points.

    `names`: of techniques, by their ids; an id stands for itself where it has none.
    """
    right = WIDTH - MARGIN_RIGHT
    spans = line_spans(seen.seconds, per_line(seen.seconds))
    top, head = _head(seen, title, right)
    baselines = tuple(top + STILLS_UP + 24.0 + PITCH * k for k in range(len(spans)))
    lines = set_lines(spans, baselines, left=LINES_LEFT, right=right)
    layers = (
        ("stills", _stills(lines, stills, per_line(seen.seconds) / STILLS_A_LINE)),
        ("away", _away(seen, lines)),
        ("slips", _slips(seen, lines)),
        ("curve", _curve(seen, lines)),
        ("motion", _stretches(seen, lines, names or {})),
        ("landings", _landings(seen, lines)),
        ("times", _times(lines, per_line(seen.seconds) / MARKS_A_LINE)),
    )
    groups = [head]
    for name, parts in layers:
        inside = "\n".join(part for part in parts if part)
        if inside:
            groups.append(f'<g class="{name}">\n{inside}\n</g>')
    return document(
        "\n".join(groups),
        width=WIDTH,
        height=lines[-1].baseline + TICKS + MARGIN_BOTTOM,
        title=title,
        desc=" ".join(seen_sentences(seen, names)),
        name="seen",
        paper=ink.PAPER,
    )


def _head(seen: Seen, title: str, right: float) -> tuple[float, str]:
    y, parts, room = MARGIN_TOP, [], right - LINES_LEFT
    count = len(seen.strokes)
    says = f"{as_minutes(seen.seconds)} · {count} stroke{'' if count == 1 else 's'}"
    rows = (
        (title, Face.REGULAR, 22.0, ink.INK, 0.0),
        (says, Face.ITALIC, 10.6, ink.NOTES, 4.0),
        (KEY + (KEY_AWAY if seen.away else ""), Face.REGULAR, 7.4, ink.NOTES, 5.0),
    )
    for text, face, size, fill, gap in rows:
        y += gap
        for row in broken_into_lines(text, face, size, room):
            y += size * 1.2
            parts.append(words(row, x=LINES_LEFT, y=y, face=face, size=size, fill=fill))
    return y, "\n".join(parts)


def _line_of(lines: Sequence[Line], second: float) -> Line:
    return next((one for one in lines if one.start <= second < one.end), lines[-1])


def _stills(lines: Sequence[Line], stills: Sequence[Still], step: float) -> Iterator[str]:
    """Give each still around the moment that it shows, `step` seconds from the next one, and no
    wider than its share of a line; a line that holds a remainder too has less for each."""
    share = (WIDTH - MARGIN_RIGHT - LINES_LEFT) / STILLS_A_LINE
    room = min(share, lines[0].x_at(step) - lines[0].x_at(0.0)) - 3.0
    for still in stills:
        line = _line_of(lines, still.second)
        high = min(STILL_HIGH, room * still.height / still.width)
        wide = high * still.width / still.height
        yield tag(
            "image",
            x=float(line.x_at(still.second) - wide / 2),
            y=float(line.baseline - STILLS_UP + (STILL_HIGH - high) / 2),
            width=float(wide),
            height=float(high),
            href=still.address,
        )


def _slips(seen: Seen, lines: tuple[Line, ...]) -> Iterator[str]:
    for span in seen.slips:
        for line, a, b in pieces(lines, span.start, span.end):
            yield tag(
                "rect",
                x=float(line.x_at(a)),
                y=float(line.baseline - CURVE_HIGH),
                width=float(max(1.5, line.x_at(b) - line.x_at(a))),
                height=float(2 * CURVE_HIGH),
                fill=ink.TINT,
                stroke=ink.NOTES,
                stroke_width=0.5,
            )


def _away(seen: Seen, lines: tuple[Line, ...]) -> Iterator[str]:
    """Give an empty frame, of broken lines, where no hand is in the picture."""
    for span in seen.away:
        for line, a, b in pieces(lines, span.start, span.end):
            yield tag(
                "rect",
                x=float(line.x_at(a)),
                y=float(line.baseline - CURVE_HIGH),
                width=float(max(1.5, line.x_at(b) - line.x_at(a))),
                height=float(2 * CURVE_HIGH),
                fill="none",
                stroke=ink.BLUE,
                stroke_width=0.7,
                stroke_dasharray="2 2",
            )


def _curve(seen: Seen, lines: tuple[Line, ...]) -> Iterator[str]:
    """Give how the hands move, on a hair."""
    count = len(seen.curve)
    for line in lines:
        yield _drawn(f"M{num(line.left)} {num(line.baseline)}H{num(line.right)}", 0.6, ink.HAIR)
        if count < 2:
            continue
        step = seen.seconds / count
        first, last = int(line.start / step), min(count, int(line.end / step) + 1)
        points = [
            f"{num(line.x_at(n * step))} {num(line.baseline - CURVE_HIGH * seen.curve[n])}"
            for n in range(first, last)
            if n * step <= line.end
        ]
        if len(points) > 1:
            yield _drawn(f"M{'L'.join(points)}", 0.9, ink.BAND)


def _stretches(seen: Seen, lines: Sequence[Line], names: Mapping[str, str]) -> Iterator[str]:
    """Give where each motion begins, and what it is."""
    ends = [*(one.span.start for one in seen.stretches[1:]), math.inf]
    for one, end in zip(seen.stretches, ends, strict=False):
        line = _line_of(lines, one.span.start)
        x, top = line.x_at(one.span.start), line.baseline - CURVE_HIGH - 8
        yield _drawn(f"M{num(x)} {num(top)}V{num(line.baseline + CURVE_HIGH)}", 0.9, ink.INK)
        room = line.x_at(end) - x - 5 if end < line.end else WIDTH - x - 7
        text = _label(one, names, room)
        if not text and end >= line.end:  # at the end of a line it begins sooner
            text = KIND_SAYS[one.kind]
            x = WIDTH - 7 - width_of(text, Face.ITALIC, LABEL_SIZE)
        if text:
            yield words(text, x=x + 3, y=top + 5, face=Face.ITALIC, size=LABEL_SIZE, fill=ink.INK)


def _label(one: SeenStretch, names: Mapping[str, str], room: float) -> str:
    """Return what a motion is, in as many words as there is `room` for (in points); '' for none."""
    kind, name = KIND_SAYS[one.kind], names.get(one.technique or "", one.technique or "")
    texts = (motion_says(one, names), name or kind, kind)
    fitting = (t for t in texts if width_of(t, Face.ITALIC, LABEL_SIZE) <= room)
    return next(fitting, "")


def _landings(seen: Seen, lines: Sequence[Line]) -> Iterator[str]:
    ticks = []
    for second in seen.strokes:
        line = _line_of(lines, second)
        y = line.baseline + CURVE_HIGH + 1.5
        ticks.append(f"M{num(line.x_at(second))} {num(y)}v{num(TICKS - CURVE_HIGH)}")
    if ticks:
        yield _drawn("".join(ticks), 0.8, ink.INK)


def _times(lines: Sequence[Line], step: float) -> Iterator[str]:
    for line in lines:
        text = as_minutes(line.start)
        x = TIMES_RIGHT - width_of(text, Face.REGULAR, 9.0)
        yield words(text, x=x, y=line.baseline + 3, face=Face.REGULAR, size=9.0, fill=ink.NOTES)
        yield from _marks(line, step)


def _marks(line: Line, step: float) -> Iterator[str]:
    """Give the times along a line every `step` seconds, under the ticks; the first stands before
    it."""
    for number in range(1, int((line.end - line.start) / step + 1e-6) + 1):
        second = line.start + number * step
        text = as_minutes(second)
        x = line.x_at(second) - width_of(text, Face.REGULAR, MARK_SIZE) / 2
        y = line.baseline + TICKS + MARK_SIZE + 1.5
        yield words(text, x=x, y=y, face=Face.REGULAR, size=MARK_SIZE, fill=ink.NOTES)


def _drawn(d: str, width: float, colour: str) -> str:
    return tag("path", d=d, fill="none", stroke=colour, stroke_width=float(width))
