"""The picture of what was heard: a track on lines like verse, its sound a quiet band.

It stands as the page of a routine does: a tint where the motif is at home, dots for the beats that
can be heard, wedges where the music rises, one warm rule under the strongest section.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from rondel.drawing import ink
from rondel.drawing.heard_words import (
    heard_sentences,
    strength_says,
    strongest,
    tempo_says,
)
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
from rondel.model.stretches import less
from rondel.model.time import as_minutes
from rondel.model.track import Heard, Section, Span

WIDTH = 595.28  # points: an A4 sheet, as high as it needs to be
PITCH = 52.0  # from one line to the next
HALF_BAND = 10.5  # of the loudest sound
TINT = 13.0  # half the height of a tint
BEATS = 17.0  # below the line
RISES = 19.5
RULE = 24.0
LABELS = -15.5
LABEL_SIZE = 8.0
BAR_DOT, BEAT_DOT, RING = 1.0, 0.55, 1.1
#: Dots nearer to each other than this, in points, would run together.
LEAST_APART = 3.0
#: Up to so many seconds, a line holds so many.
LINE_SECONDS = ((720.0, 60.0), (1800.0, 120.0), (5400.0, 300.0), (float("inf"), 600.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    heard: Heard
    lines: tuple[Line, ...]


def draw_heard(heard: Heard, title: str) -> str:
    """Return the picture as SVG, with all of it told in its description; sizes in points."""
    right = WIDTH - MARGIN_RIGHT
    per_line = next(seconds for until, seconds in LINE_SECONDS if heard.seconds <= until)
    spans = line_spans(heard.seconds, per_line)
    scale = (right - LINES_LEFT) / max(end - start for start, end in spans)
    top, head = _head(heard, title, right, _key(heard, _shown(heard, scale)))
    baselines = tuple(top + 36.0 + PITCH * k for k in range(len(spans)))
    lines = set_lines(spans, baselines, left=LINES_LEFT, right=right)
    sheet = _Sheet(heard=heard, lines=lines)
    layers = (
        ("motif", _tints(sheet)),
        ("sound", _band(sheet)),
        ("sections", _sections(sheet)),
        ("rises", _rises(sheet)),
        ("beats", _beats(sheet)),
        ("times", _times(sheet)),
    )
    groups = [head]
    for name, parts in layers:
        inside = "\n".join(part for part in parts if part)
        if inside:
            groups.append(f'<g class="{name}">\n{inside}\n</g>')
    return document(
        "\n".join(groups),
        width=WIDTH,
        height=lines[-1].baseline + RULE + MARGIN_BOTTOM,
        title=title,
        desc=" ".join(heard_sentences(heard)),
        name="heard",
        paper=ink.PAPER,
    )


class _Shown(Enum):
    """What of the beats can be told apart at the scale of a picture."""

    BEATS = "dots: the beat you can hear, larger where a bar begins"
    BARS = "dots: bars with a beat you can hear"
    RULE = "thin rule: a beat can be heard"


def _shown(heard: Heard, points_per_second: float) -> _Shown:
    apart = (
        (heard.beats[-1] - heard.beats[0]) / max(1, len(row) - 1) if row else 0.0
        for row in (heard.beats, heard.downbeats)
    )
    beats, bars = (seconds * points_per_second >= LEAST_APART for seconds in apart)
    if beats:
        return _Shown.BEATS
    return _Shown.BARS if bars else _Shown.RULE


def _head(heard: Heard, title: str, right: float, key: str) -> tuple[float, str]:
    """Return how far down title, sentence and key reach, and their drawing."""
    y, parts, room = MARGIN_TOP, [], right - LINES_LEFT
    rows = (
        (title, Face.REGULAR, 22.0, ink.INK, 0.0),
        (f"{as_minutes(heard.seconds)} · {tempo_says(heard)}", Face.ITALIC, 10.6, ink.NOTES, 4.0),
        (key, Face.REGULAR, 7.4, ink.NOTES, 5.0),
    )
    for text, face, size, fill, gap in rows:
        y += gap
        for row in broken_into_lines(text, face, size, room):
            y += size * 1.2
            parts.append(words(row, x=LINES_LEFT, y=y, face=face, size=size, fill=fill))
    return y, "\n".join(parts)


def _key(heard: Heard, shown: _Shown) -> str:
    """Return what the marks mean, of those that are there."""
    said = (
        (True, "band: how strong the sound is"),
        (bool(heard.beats), shown.value),
        (bool(heard.unsure and heard.beats) and shown is not _Shown.RULE, "rings: perhaps a beat"),
        (bool(heard.sections), "upright: a section begins"),
        (strongest(heard.sections) is not None, "ruled: the strongest"),
        (bool(heard.returns), "tinted: the motif"),
        (bool(heard.rises), "wedge: the music rises"),
    )
    return " · ".join(text for holds, text in said if holds)


def _tints(sheet: _Sheet) -> Iterator[str]:
    for span in sheet.heard.returns:
        for line, a, b in pieces(sheet.lines, span.start, span.end):
            left, right = line.x_at(a), line.x_at(b)
            top, bottom = line.baseline - TINT, line.baseline + TINT
            yield tag(
                "rect",
                x=float(left),
                y=float(top),
                width=float(right - left),
                height=float(2 * TINT),
                fill=ink.TINT,
            )
            edges = [left] if a == span.start else []
            edges += [right] if b == span.end else []
            d = "".join(f"M{num(x)} {num(top)}V{num(bottom)}" for x in edges)
            yield _line(d, 0.7, ink.NOTES) if d else ""


def _band(sheet: _Sheet) -> Iterator[str]:
    """Give the sound of each line as one closed shape around it; silence is a hair."""
    heard = sheet.heard
    for line in sheet.lines:
        yield _line(f"M{num(line.left)} {num(line.baseline)}H{num(line.right)}", 0.6, ink.HAIR)
        points = list(_heights(heard, line))
        if not points:
            continue
        above = "L".join(f"{num(x)} {num(line.baseline - h)}" for x, h in points)
        below = "L".join(f"{num(x)} {num(line.baseline + h)}" for x, h in reversed(points))
        yield tag("path", d=f"M{above}L{below}Z", fill=ink.BAND)


def _heights(heard: Heard, line: Line) -> Iterator[tuple[float, float]]:
    """Give x and half the height of the band, every two points or so along `line`."""
    parts = len(heard.shape)
    if not parts:
        return
    steps = max(2, int((line.right - line.left) / 2))
    for k in range(steps + 1):
        second = line.start + (line.end - line.start) * k / steps
        place = second / heard.seconds * parts - 0.5
        low = min(max(int(place), 0), parts - 1)
        high, share = min(low + 1, parts - 1), min(max(place - low, 0.0), 1.0)
        strength = heard.shape[low] * (1 - share) + heard.shape[high] * share
        yield line.x_at(second), HALF_BAND * strength


def _sections(sheet: _Sheet) -> Iterator[str]:
    """Give an upright and a word for every section, and the warm rule under the strongest."""
    sections = sheet.heard.sections
    if len(sections) < 2:
        return
    peak = strongest(sections)
    taken: dict[int, float] = {}  # by line: where the last word ends
    for section in sections:
        line = next(n for n in reversed(sheet.lines) if n.start <= section.span.start + 1e-6)
        x = line.x_at(section.span.start)
        d = f"M{num(x)} {num(line.baseline + LABELS - 6)}V{num(line.baseline + TINT)}"
        yield _line(d, 0.9, ink.INK)
        colour = ink.PEAK if section is peak else ink.INK
        text = _label(section, is_peak=section is peak)
        width = width_of(text, Face.ITALIC, LABEL_SIZE)
        if x + 3 > taken.get(line.index, 0.0) and x + 3 + width <= WIDTH - 4:
            y = line.baseline + LABELS
            yield words(text, x=x + 3, y=y, face=Face.ITALIC, size=LABEL_SIZE, fill=colour)
            taken[line.index] = x + 3 + width + 4
    if peak is not None:
        yield from _under(sheet, peak.span)


def _label(section: Section, *, is_peak: bool) -> str:
    return "strongest" if is_peak else strength_says(section)


def _under(sheet: _Sheet, span: Span) -> Iterator[str]:
    for line, a, b in pieces(sheet.lines, span.start, span.end):
        y = num(line.baseline + RULE)
        yield _line(f"M{num(line.x_at(a))} {y}H{num(line.x_at(b))}", 0.9, ink.PEAK)


def _rises(sheet: _Sheet) -> Iterator[str]:
    for rise in sheet.heard.rises:
        for line, a, b in pieces(sheet.lines, rise.start, rise.end):
            grown = [3.0 * (t - rise.start) / rise.seconds for t in (a, b)]
            y, x0, x1 = line.baseline + RISES + 3.0, line.x_at(a), line.x_at(b)
            yield tag(
                "path",
                d=f"M{num(x0)} {num(y)}L{num(x1)} {num(y)}L{num(x1)} {num(y - grown[1])}"
                f"L{num(x0)} {num(y - grown[0])}Z",
                fill=ink.BLUE,
            )


def _beats(sheet: _Sheet) -> Iterator[str]:
    """Give a dot for every beat that can be heard, and a ring where that is not sure.

    Where dots would run together only those that begin a bar stand, or none: a thin rule then.
    """
    heard = sheet.heard
    bars = frozenset(heard.downbeats)
    shown = _shown(heard, sheet.lines[0].points_per_second)
    if shown is _Shown.RULE:
        yield from _ruled(sheet)
        return
    dots: dict[float, list[str]] = {BAR_DOT: [], BEAT_DOT: []}
    for beat in heard.beats if shown is _Shown.BEATS else heard.downbeats:
        if any(span.holds(beat) for span in heard.beatless):
            continue
        line = next((n for n in sheet.lines if n.start <= beat < n.end), sheet.lines[-1])
        x, y = line.x_at(beat), line.baseline + BEATS
        if any(span.holds(beat) for span in heard.unsure):
            size = RING if beat in bars else BEAT_DOT
            yield tag(
                "circle",
                cx=float(x),
                cy=float(y),
                r=float(size),
                fill="none",
                stroke=ink.NOTES,
                stroke_width=0.45,
            )
            continue
        dots[BAR_DOT if beat in bars else BEAT_DOT].append(f"M{num(x)} {num(y)}h0")
    for size, places in dots.items():
        if places:
            yield _line("".join(places), 2 * size, ink.NOTES, cap="round")


def _ruled(sheet: _Sheet) -> Iterator[str]:
    whole = Span(start=0.0, end=sheet.heard.seconds)
    for span in less((whole,), sheet.heard.beatless):
        for line, a, b in pieces(sheet.lines, span.start, span.end):
            y = num(line.baseline + BEATS)
            yield _line(f"M{num(line.x_at(a))} {y}H{num(line.x_at(b))}", 0.8, ink.NOTES)


def _times(sheet: _Sheet) -> Iterator[str]:
    for line in sheet.lines:
        text = as_minutes(line.start)
        x = TIMES_RIGHT - width_of(text, Face.REGULAR, 9.0)
        yield words(text, x=x, y=line.baseline + 3, face=Face.REGULAR, size=9.0, fill=ink.NOTES)


def _line(d: str, width: float, colour: str, *, cap: str = "butt") -> str:
    return tag(
        "path", d=d, fill="none", stroke=colour, stroke_width=float(width), stroke_linecap=cap
    )
