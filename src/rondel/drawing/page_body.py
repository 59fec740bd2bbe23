"""The lines of a page with everything on them: tints, strokes, names, beats, wedges, times."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from rondel.drawing import ink
from rondel.drawing.lettering import DESCENT, Face, width_of
from rondel.drawing.marks import Mark, Pen, Stroke, draw, lane_of, shape_of
from rondel.drawing.page_labels import Placed, row_baseline
from rondel.drawing.page_lines import Line, pieces
from rondel.drawing.page_measure import TIMES_RIGHT, Measure
from rondel.drawing.page_svg import (
    attributes,
    english_in,
    escaped,
    num,
    tag,
    tongue,
    words,
)
from rondel.drawing.page_words import passage_told
from rondel.model.names import language_of
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.spans import audible_beats, crossings
from rondel.model.time import as_minutes
from rondel.model.words import Family, Role


@dataclass(frozen=True, kw_only=True)
class Body:
    """Lines of a routine ready to draw; `labels` holds the placed names of each line's index."""

    routine: Routine
    craft: Craft
    lines: tuple[Line, ...]
    measure: Measure
    labels: dict[int, tuple[Placed, ...]]
    may_touch: bool = False  # screens: each passage gets an unseen area to point at
    has_times: bool = True
    prefix: str = ""  # of the id of every passage

    def svg(self) -> str:
        """Return the lines as SVG groups, back to front."""
        layers = (
            ("home", _tints(self)),
            ("guides", _guides(self)),
            ("crossings", _wedges(self)),
            ("beats", _beats(self)),
            ("passages", _passages(self)),
            ("times", _times(self) if self.has_times else iter(())),
        )
        groups = []
        for name, parts in layers:
            inside = "\n".join(part for part in parts if part)
            if inside:
                groups.append(f'<g class="{name}">\n{inside}\n</g>')
        return "\n".join(groups)


def technique_of(passage: Passage, craft: Craft) -> Technique | None:
    """Return the technique of `passage`; None where bars are open or the technique is unknown."""
    if passage.technique is None or not craft.has_technique(passage.technique):
        return None
    return craft.technique(passage.technique)


def ink_of(passage: Passage, technique: Technique | None) -> str:
    """Return the colour of a passage: the accent for the peak, quieter ones for stillness."""
    if passage.role is Role.PEAK:
        return ink.PEAK
    if passage.role is Role.REFRAIN or technique is None:
        return ink.NOTES
    is_still = technique.family is Family.HOLDING and passage.pressure <= 1
    return ink.BLUE if is_still else ink.INK


def strokes_in_beats(
    passage: Passage, technique: Technique | None, routine: Routine
) -> tuple[tuple[Fraction, Fraction, Fraction], ...]:
    """Return (start, landing, end) of every stroke in beats; held and open ones are one stroke."""
    start, end = Fraction(routine.start_beat(passage)), Fraction(routine.end_beat(passage))
    if technique is None or technique.family.is_held:
        return ((start, start, end),)
    step = passage.beats_per_stroke
    count = max(1, int((end - start) / step))
    return tuple(
        (
            start + k * step,
            min(start + k * step + passage.first_landing_beat, end),
            min(start + (k + 1) * step, end),
        )
        for k in range(count)
    )


def _tints(body: Body) -> Iterator[str]:
    routine, height = body.routine, body.measure.tint
    for row in routine.refrains:
        start, end = routine.start_seconds(row[0]), routine.end_seconds(row[-1])
        for line, a, b in pieces(body.lines, start, end):
            left, right = line.x_at(a), line.x_at(b)
            yield tag(
                "rect",
                x=float(left),
                y=float(line.baseline - height),
                width=float(right - left),
                height=float(2 * height),
                fill=ink.TINT,
            )
            edges = [left] if a == start else []
            edges += [right] if b == end else []
            for x in edges:
                yield _stroke(
                    f"M{num(x)} {num(line.baseline - height)}V{num(line.baseline + height)}",
                    0.8 * body.measure.weight,
                    ink.NOTES,
                    cap="butt",
                )


def _guides(body: Body) -> Iterator[str]:
    d = "".join(f"M{num(n.left)} {num(n.baseline)}H{num(n.right)}" for n in body.lines)
    yield _stroke(d, 0.6 * body.measure.weight, ink.HAIR, cap="butt")


def _stroke(
    d: str, width: float, colour: str, *, cap: str = "round", dashes: str | None = None
) -> str:
    return tag(
        "path",
        d=d,
        fill="none",
        stroke=colour,
        stroke_width=float(width),
        stroke_linecap=cap,
        stroke_linejoin="round",
        stroke_dasharray=dashes,
    )


def _beats(body: Body) -> Iterator[str]:
    """Give the dots of the beats that can be heard: larger where a bar begins."""
    routine, m = body.routine, body.measure
    beats = audible_beats(routine)
    bars: list[str] = []
    others: list[str] = []
    times = [routine.clock.seconds_at(b) for b in beats]
    for line in body.lines:
        here = range(bisect_left(times, line.start - 1e-6), bisect_left(times, line.end - 1e-6))
        for i in here:
            d = f"M{num(line.x_at(times[i]))} {num(line.baseline + m.beats)}h0"
            (others if beats[i] % routine.beats_per_bar else bars).append(d)
    if bars and m.bar_dot:
        yield _stroke("".join(bars), 2 * m.bar_dot, ink.NOTES)
    if others and m.beat_dot:
        yield _stroke("".join(others), 2 * m.beat_dot, ink.NOTES)


def _wedges(body: Body) -> Iterator[str]:
    """Give a wedge for each crossing that rises into home or the peak, and the rule under it."""
    routine, m = body.routine, body.measure
    for crossing in crossings(routine):
        into_peak = crossing.entering.role is Role.PEAK and crossing.leaving.role is not Role.PEAK
        if not crossing.is_home and not into_peak:
            continue
        start = routine.clock.seconds_at(crossing.start_beat)
        end = routine.clock.seconds_at(crossing.end_beat)
        for line, a, b in pieces(body.lines, start, end):
            grown = [m.wedge_height * (t - start) / (end - start) for t in (a, b)]
            y, x0, x1 = line.baseline + m.wedge + m.wedge_height, line.x_at(a), line.x_at(b)
            yield tag(
                "path",
                d=f"M{num(x0)} {num(y)}L{num(x1)} {num(y)}L{num(x1)} {num(y - grown[1])}"
                f"L{num(x0)} {num(y - grown[0])}Z",
                fill=ink.BLUE,
            )
    for passage in routine.line:
        if passage.role is Role.PEAK:
            span = routine.start_seconds(passage), routine.end_seconds(passage)
            for line, a, b in pieces(body.lines, *span):
                y = line.baseline + m.under
                d = f"M{num(line.x_at(a))} {num(y)}H{num(line.x_at(b))}"
                yield _stroke(d, 0.9 * m.weight, ink.PEAK, cap="butt")


def _passages(body: Body) -> Iterator[str]:
    for passage in body.routine.passages:
        inside = list(_passage_parts(body, passage))
        if not inside:
            continue
        named = attributes(
            id=f"{body.prefix}{passage.id}",
            class_=f"passage {passage.role} {passage.side}",
            data_start=f"{body.routine.start_seconds(passage):.3f}",
            data_end=f"{body.routine.end_seconds(passage):.3f}",
        )
        told = escaped(passage_told(passage, body.routine, body.craft))
        english = tongue(english_in(language_of(body.routine)))
        yield f"<g{named}><title{english}>{told}</title>\n" + "\n".join(inside) + "\n</g>"


def _passage_parts(body: Body, passage: Passage) -> Iterator[str]:
    routine, m = body.routine, body.measure
    technique = technique_of(passage, body.craft)
    shape, lane = shape_of(technique), lane_of(passage.side, passage.layer, m.tall)
    seconds = [
        tuple(routine.clock.seconds_at(b) for b in stroke)
        for stroke in strokes_in_beats(passage, technique, routine)
    ]
    span = routine.start_seconds(passage), routine.end_seconds(passage)
    for line, first, last in pieces(body.lines, *span):
        if body.may_touch:
            yield tag(
                "rect",
                class_="reach",
                x=float(line.x_at(first)),
                y=float(line.baseline - m.pitch / 2),
                width=float(line.x_at(last) - line.x_at(first)),
                height=float(m.pitch),
                fill="none",
                pointer_events="all",
            )
        strokes = tuple(
            Stroke(index=i, start=line.x_at(a), land=line.x_at(at), end=line.x_at(b))
            for i, (a, at, b) in enumerate(seconds)
            if b > first + 1e-6 and a < last - 1e-6
        )
        pen = Pen(
            lane=lane,
            pressure=passage.pressure,
            tall=m.tall,
            left=line.left,
            right=line.right,
            y=line.baseline,
            weight=m.weight,
        )
        yield _painted(draw(shape, strokes, pen), ink_of(passage, technique))
    for line in body.lines:
        for placed in body.labels.get(line.index, ()):
            if placed.owner == passage.id:
                yield from _label(placed, line, m)


def _painted(mark: Mark, colour: str) -> str:
    if not mark.d:
        return ""
    if mark.filled:
        return tag("path", class_="mark", d=mark.d, fill=colour)
    painted = _stroke(mark.d, mark.width, colour, dashes=mark.dashes)
    return painted.replace("<path", '<path class="mark"', 1)


def _label(placed: Placed, line: Line, m: Measure) -> Iterator[str]:
    count = len(placed.lines)
    for i, runs in enumerate(placed.lines):
        y = line.baseline + row_baseline(placed.row + count - 1 - i, m.names)
        x = placed.x
        for run in runs:
            lead = len(run.text) - len(run.text.lstrip(" "))
            x += width_of(run.text[:lead], run.face, run.size)
            text = run.text.strip(" ")
            yield words(
                text,
                x=x,
                y=y,
                face=run.face,
                size=run.size,
                fill=run.fill,
                language=run.language,
            )
            x += width_of(run.text[lead:], run.face, run.size)
    if placed.has_leader:
        at = placed.label.at
        top = line.baseline + row_baseline(placed.row, m.names) + DESCENT * m.name_size + 0.4
        # Words right above their start need a leader only from a higher row; words that were
        # moved aside point with it from their own row.
        yield (
            f'<path class="leader" d="M{num(at)} {num(top)}V{num(line.baseline - m.tall + 1.5)}" '
            f'fill="none" stroke="{ink.NOTES}" stroke-width="0.5"/>'
        )


def _times(body: Body) -> Iterator[str]:
    for line in body.lines:
        text = as_minutes(line.start)
        x = TIMES_RIGHT - width_of(text, Face.REGULAR, 8.6)
        yield words(text, x=x, y=line.baseline + 2.8, face=Face.REGULAR, size=8.6, fill=ink.NOTES)
