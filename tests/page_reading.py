"""Reads a drawn page back from its SVG: boxes of words and points of marks.

Written apart from the drawing code. Widths and heights of words come from the font files.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import combinations, pairwise
from xml.etree import ElementTree

from page_fonts import Font, read_font

SVG = "{http://www.w3.org/2000/svg}"
Point = tuple[float, float]


@cache
def font(italic: bool, bold: bool) -> Font:
    return read_font(("Semibold" if bold else "") + ("It" if italic else "") or "Regular")


@dataclass(frozen=True)
class Box:
    text: str
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, point: Point, margin: float) -> bool:
        x, y = point
        return (
            self.left - margin < x < self.right + margin
            and self.top - margin < y < self.bottom + margin
        )


@dataclass(frozen=True)
class Ink:
    """Points closely along a drawn shape, and how far its line reaches from them."""

    points: tuple[Point, ...]
    reach: float

    @cached_property
    def box(self) -> Box:
        xs, ys = zip(*self.points, strict=True)
        r = self.reach
        return Box("", min(xs) - r, min(ys) - r, max(xs) + r, max(ys) + r)


@dataclass(frozen=True)
class Read:
    width: float
    height: float
    boxes: tuple[Box, ...]
    inks: tuple[Ink, ...]


def read(svg: str) -> Read:
    root = ElementTree.fromstring(svg)
    _, _, width, height = (float(v) for v in root.attrib["viewBox"].split())
    assert "transform" not in svg
    boxes, inks = [], []
    for element in root.iter():
        if element.tag == f"{SVG}text":
            boxes.append(_box(element))
        elif element.tag == f"{SVG}path":
            inks.append(_ink(element))
        elif element.tag == f"{SVG}rect" and not _is_ground(element, width):
            inks.append(_edge(element))
    return Read(width, height, tuple(boxes), tuple(inks))


def _is_ground(element: ElementTree.Element, width: float) -> bool:
    return element.get("class") == "reach" or float(element.attrib["width"]) >= width - 0.01


def _box(element: ElementTree.Element) -> Box:
    text = element.text or ""
    size = float(element.attrib["font-size"])
    face = font(element.get("font-style") == "italic", element.get("font-weight") == "600")
    x, y = float(element.attrib["x"]), float(element.attrib["y"])
    width = float(element.attrib["textLength"])
    natural = face.width(text, size)
    assert abs(width - natural) < 0.02 * natural + 0.02, f"{text!r} is squeezed or stretched"
    below, above = face.extent(text, size)
    return Box(text, x, y - above, x + width, y - below)


def _edge(element: ElementTree.Element) -> Ink:
    x, y, w, h = (float(element.attrib[n]) for n in ("x", "y", "width", "height"))
    corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]
    return Ink(tuple(p for a, b in pairwise(corners) for p in _between(a, b)), 0.0)


def _ink(element: ElementTree.Element) -> Ink:
    drawn = element.get("fill") == "none"
    reach = float(element.attrib["stroke-width"]) / 2 if drawn else 0.0
    return Ink(tuple(path_points(element.attrib["d"])), reach)


def _between(a: Point, b: Point) -> Iterator[Point]:
    steps = max(1, math.ceil(math.dist(a, b) / 0.5))
    for i in range(steps + 1):
        t = i / steps
        yield a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t


TOKEN = re.compile(r"[MLHVvhCAZ]|-?\d*\.?\d+")
COUNT = {"M": 2, "L": 2, "H": 1, "V": 1, "h": 1, "v": 1, "C": 6, "A": 7, "Z": 0}


def path_points(d: str) -> Iterator[Point]:
    """Give points closely along path data (the commands M L H h V v C A Z)."""
    tokens = TOKEN.findall(d)
    assert "".join(tokens) == re.sub(r"[\s,]", "", d), f"cannot read {d!r}"
    here = start = (0.0, 0.0)
    i, command = 0, ""
    while i < len(tokens):
        if tokens[i] in COUNT:
            command = tokens[i]
            i += 1
        n = COUNT[command]
        v = [float(t) for t in tokens[i : i + n]]
        i += n
        x, y = here
        if command == "M":
            here = start = (v[0], v[1])
            yield here
            continue
        if command == "C":
            yield from _cubic(here, v)
            here = (v[4], v[5])
            continue
        if command == "A":
            yield from _arc(here, (v[5], v[6]), v[1])
            here = (v[5], v[6])
            continue
        if command == "Z":
            there = start
        elif command in "HV":
            there = (v[0], y) if command == "H" else (x, v[0])
        elif command in "hv":
            there = (x + v[0], y) if command == "h" else (x, y + v[0])
        else:
            there = (v[0], v[1])
        yield from _between(here, there)
        here = there


def _cubic(start: Point, v: list[float]) -> Iterator[Point]:
    ax, ay, bx, by, x, y = v
    for i in range(25):
        t = i / 24
        s = 1 - t
        yield (
            s**3 * start[0] + 3 * s * s * t * ax + 3 * s * t * t * bx + t**3 * x,
            s**3 * start[1] + 3 * s * s * t * ay + 3 * s * t * t * by + t**3 * y,
        )


def _arc(start: Point, end: Point, ry: float) -> Iterator[Point]:
    """Give the corners of the box that the arc cannot leave (half or quarter turns only)."""
    for x in (min(start[0], end[0]), max(start[0], end[0])):
        for y in (min(start[1], end[1]), max(start[1], end[1])):
            yield x, y
    if abs(start[1] - end[1]) < 1e-6:  # a half turn bulges up and down by its radius
        yield (start[0] + end[0]) / 2, start[1] - ry
        yield (start[0] + end[0]) / 2, start[1] + ry


def collisions(page: Read) -> list[str]:
    """Return a sentence for each pair of words, or word and mark, that meet."""
    found = [f"{a.text!r} meets {b.text!r}" for a, b in combinations(page.boxes, 2) if a.meets(b)]
    for box in page.boxes:
        for ink in page.inks:
            if not box.meets(ink.box):
                continue
            hit = next((p for p in ink.points if box.holds(p, ink.reach)), None)
            if hit:
                found.append(f"{box.text!r} meets a mark at {hit[0]:.1f}, {hit[1]:.1f}")
    return found


def strays(page: Read, margin: float) -> list[str]:
    """Return a sentence for each word or mark nearer than `margin` to the paper's edge."""
    found = [
        f"{b.text!r} leaves the paper"
        for b in page.boxes
        if b.left < margin
        or b.top < margin
        or b.right > page.width - margin
        or b.bottom > page.height - margin
    ]
    for ink in page.inks:
        for x, y in ink.points:
            if not (
                margin < x - ink.reach
                and x + ink.reach < page.width - margin
                and margin < y - ink.reach
                and y + ink.reach < page.height - margin
            ):
                found.append(f"a mark leaves the paper at {x:.1f}, {y:.1f}")
                break
    return found
