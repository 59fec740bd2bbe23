"""The marks of the strokes: one shape a family, drawn where each stroke lands.

A long arc for a glide (two mirrored arcs when both hands go), a ring for kneading and circling,
alternate ticks for hand after hand and for percussion, two slanted dashes for friction, a small
wave for vibration, a swelling drop for a slow press, a closed loop for an embrace, a thin rule
for a still hold, a dotted rule for an open passage. Heights are the receiver's body: above the
line their left, below it their right, on it both.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from rondel.drawing.ink import LINE_WIDTHS, SWELL_HEIGHTS
from rondel.drawing.marks_curve import (
    as_path,
    as_path_back,
    cut,
    mirrored,
    rise_and_return,
    swell,
    tremble,
)
from rondel.drawing.page_svg import num
from rondel.model.repertoire import Technique
from rondel.model.words import Family, Layer, Side, Trace


class Shape(StrEnum):
    """The shapes, by the words that the page's key uses."""

    ARC = "glide"
    RING = "knead, circle"
    TICK = "hand after hand"
    DASH = "rub"
    WAVE = "tremble"
    DROP = "press"
    LOOP = "embrace"
    RULE = "hold"
    DOTS = "yours to fill"


def shape_of(technique: Technique | None) -> Shape:
    """Return the shape in which strokes of `technique` are drawn; None is an open passage."""
    if technique is None:
        return Shape.DOTS
    family, trace = technique.family, technique.trace
    held = {Family.HOLDING: Shape.RULE, Family.EMBRACE: Shape.LOOP}
    fixed = {
        Family.PERCUSSION: Shape.TICK,
        Family.VIBRATION: Shape.WAVE,
        Family.KNEADING: Shape.RING,
    }
    if family in held:
        return held[family]
    if family in fixed:
        return fixed[family]
    if technique.is_alternating:
        return Shape.TICK
    if trace is Trace.CIRCLE:
        return Shape.RING
    return {Family.FRICTION: Shape.DASH, Family.PRESSING: Shape.DROP}.get(family, Shape.ARC)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lane:
    """Where on the line a passage is written: heights from the baseline, y downwards.

    Arcs start at `base` and go out by `reach`; small marks sit about `middle`, within `half`.
    """

    base: float
    reach: float
    middle: float
    half: float
    doubled: bool = False  # mirrored below the line


def lane_of(side: Side, layer: Layer, tall: float) -> Lane:
    """Return the lane of a passage on a line whose marks may be `tall` on either side."""
    if layer is Layer.OVER:
        away = 1.0 if side is Side.RIGHT else -1.0
        return Lane(
            base=away * 0.72 * tall,
            reach=away * 0.28 * tall,
            middle=away * 0.84 * tall,
            half=0.2 * tall,
        )
    room = tall * (0.6 if layer is Layer.UNDER else 1.0)
    if side.is_one_sided:
        away = -1.0 if side is Side.LEFT else 1.0
        return Lane(
            base=away * 0.22 * room,
            reach=away * 0.78 * room,
            middle=away * 0.54 * room,
            half=0.46 * room,
        )
    return Lane(base=0.0, reach=-0.92 * room, middle=0.0, half=0.8 * room, doubled=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One stroke in points along a line: where it starts, lands and ends; `index` counts from 0."""

    index: int
    start: float
    land: float
    end: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pen:
    """What a mark is drawn with. `left` and `right` are the line's ends, `y` its baseline.

    `tall` is how far marks may go from the baseline; `weight` scales every width.
    """

    lane: Lane
    pressure: int
    tall: float
    left: float
    right: float
    y: float
    weight: float = 1.0

    @property
    def width(self) -> float:
        return LINE_WIDTHS[self.pressure] * self.weight

    def within(self, x: float, margin: float) -> float:
        """Return `x`, moved as little as keeps `margin` to both ends of the line."""
        return min(max(x, self.left + margin), max(self.right - margin, self.left + margin))

    def is_here(self, x: float) -> bool:
        """True where a mark at the instant `x` belongs to this line."""
        return self.left - 1e-6 <= x < self.right - 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Path data and how to paint it: filled, or drawn `width` wide (perhaps with gaps)."""

    d: str
    width: float = 0.0
    filled: bool = False
    dashes: str | None = None


def draw(shape: Shape, strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    """Return the mark of `strokes` on one line; what lies beyond the line's ends is cut off."""
    return _DRAWN[shape](strokes, pen)


def _spacing(strokes: tuple[Stroke, ...]) -> float:
    return min((s.end - s.start for s in strokes), default=1.0)


def _arcs(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    lane, parts = pen.lane, []
    for s in strokes:
        span = s.end - s.start
        turn = min(max(s.land, s.start + 0.3 * span), s.start + 0.7 * span)
        curve = rise_and_return(s.start, turn, s.end, pen.y + lane.base, lane.reach)
        here = cut(curve, pen.left, pen.right)
        parts.append(as_path(here))
        if lane.doubled:
            parts.append(as_path(mirrored(here, pen.y)))
    return Mark(d="".join(parts), width=pen.width)


def _rings(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    spacing = _spacing(strokes)
    outer = min(0.48 * pen.tall, 0.46 * spacing)
    width = min(pen.width, outer * 0.9)
    radius = outer - width / 2
    y, parts = pen.y + pen.lane.middle, []
    for s in strokes:
        # A ring that lands at first contact begins there; the others are centred on the landing.
        at = s.land + outer + 0.7 if s.land - s.start < outer else s.land
        if not pen.is_here(s.land):
            continue
        x = pen.within(at, outer)
        parts.append(
            f"M{num(x - radius)} {num(y)}"
            f"A{num(radius)} {num(radius)} 0 1 1 {num(x + radius)} {num(y)}"
            f"A{num(radius)} {num(radius)} 0 1 1 {num(x - radius)} {num(y)}Z"
        )
    return Mark(d="".join(parts), width=width)


def _ticks(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    width = min(pen.width, 0.5 * _spacing(strokes))
    inset = width / 2
    y, half, parts = pen.y + pen.lane.middle, pen.lane.half, []
    for s in strokes:
        if not pen.is_here(s.land):
            continue
        x = pen.within(s.land + inset, inset)
        top, bottom = (-half, 0.0) if s.index % 2 == 0 else (0.0, half)
        parts.append(
            f"M{num(x)} {num(y + top + min(inset, 0.6))}V{num(y + bottom - min(inset, 0.6))}"
        )
    return Mark(d="".join(parts), width=width)


def _dashes(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    spacing = _spacing(strokes)
    lean = min(1.6 * pen.weight, 0.16 * spacing)
    gap = min(3.2 * pen.weight, 0.3 * spacing)
    width = min(pen.width, 0.24 * spacing)
    inset = width / 2
    y, half, parts = pen.y + pen.lane.middle, min(pen.lane.half, 0.42 * pen.tall) - inset, []
    for s in strokes:
        if not pen.is_here(s.land):
            continue
        # A pair that lands at first contact begins there; the others straddle the landing.
        side = lean + inset
        at = s.land + side if s.land - s.start < side + gap / 2 else s.land - gap / 2
        x = min(pen.within(at, side), pen.right - gap - side)
        for dx in (0.0, gap):
            parts.append(
                f"M{num(x + dx - lean)} {num(y + half)}L{num(x + dx + lean)} {num(y - half)}"
            )
    return Mark(d="".join(parts), width=width)


def _waves(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    width = min(pen.width, 2.4 * pen.weight)
    half = min(0.26 * pen.tall, pen.lane.half) - width / 4
    y, parts = pen.y + pen.lane.middle, []
    for s in strokes:
        rest = min(0.1 * (s.end - s.start), 2.0)
        curve = tremble(s.start + width / 2, s.end - rest, y, half, 5.2 * pen.weight)
        parts.append(as_path(cut(curve, pen.left, pen.right)))
    return Mark(d="".join(parts), width=width)


def _drops(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    half = min(SWELL_HEIGHTS[pen.pressure] * pen.weight, pen.lane.half)
    if pen.lane.doubled:
        half *= 1.25
    y, parts = pen.y + pen.lane.middle, []
    for s in strokes:
        span = s.end - s.start
        deepest = min(max(s.land, s.start + 0.45 * span), s.start + 0.75 * span)
        edge = swell(s.start, deepest, s.end - min(0.06 * span, 2.0), y, half)
        here = cut(edge, pen.left, pen.right)
        if here:
            parts.append(as_path(here) + as_path_back(mirrored(here, y)) + "Z")
    return Mark(d="".join(parts), filled=True)


def _loops(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    lane = pen.lane
    half = min(lane.half, 0.62 * pen.tall)
    width = pen.width
    y, parts = pen.y + lane.middle, []
    for s in strokes:
        inset = width / 2 + 0.8
        left, right = s.start + inset, s.end - inset
        round_ = min(half * 2.2, (right - left) / 2)
        a, b = max(left, pen.left), min(right, pen.right)
        if b <= a:
            continue
        starts, ends = left >= pen.left - 1e-6, right <= pen.right + 1e-6
        x0 = a + round_ if starts else a
        x1 = b - round_ if ends else b
        if x1 < x0:  # so short that the rounding would meet itself
            x0 = x1 = min(max((x0 + x1) / 2, a), b)
        parts.append(_loop_path(a, x0, x1, b, y, half, starts, ends))
    return Mark(d="".join(parts), width=width)


def _loop_path(
    a: float, x0: float, x1: float, b: float, y: float, half: float, starts: bool, ends: bool
) -> str:
    """Return a loop from a to b, straight between x0 and x1, open where the line cuts it."""
    top, bottom = num(y - half), num(y + half)
    d = f"M{num(x0)} {top}L{num(x1)} {top}"
    if ends:
        r = f"{num(max(b - x1, 0.01))} {num(half)}"
        d += f"A{r} 0 0 1 {num(b)} {num(y)}A{r} 0 0 1 {num(x1)} {bottom}"
    else:
        d += f"M{num(x1)} {bottom}"
    d += f"L{num(x0)} {bottom}"
    if starts:
        r = f"{num(max(x0 - a, 0.01))} {num(half)}"
        d += f"A{r} 0 0 1 {num(a)} {num(y)}A{r} 0 0 1 {num(x0)} {top}"
    return d


def _rules(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    y, parts = pen.y + pen.lane.middle, []
    inset = pen.width / 2 + 1.2
    for s in strokes:
        a, b = max(s.start + inset, pen.left), min(s.end - inset, pen.right)
        if b > a:
            parts.append(f"M{num(a)} {num(y)}H{num(b)}")
    return Mark(d="".join(parts), width=pen.width)


def _dots(strokes: tuple[Stroke, ...], pen: Pen) -> Mark:
    width = 1.5 * pen.weight
    marks = _rules(strokes, pen)
    return Mark(d=marks.d, width=width, dashes=f"0.01 {num(5 * pen.weight)}")


_DRAWN: dict[Shape, Callable[[tuple[Stroke, ...], Pen], Mark]] = {
    Shape.ARC: _arcs,
    Shape.RING: _rings,
    Shape.TICK: _ticks,
    Shape.DASH: _dashes,
    Shape.WAVE: _waves,
    Shape.DROP: _drops,
    Shape.LOOP: _loops,
    Shape.RULE: _rules,
    Shape.DOTS: _dots,
}
