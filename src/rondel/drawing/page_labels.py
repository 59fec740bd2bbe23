"""Where names stand: above the marks, never on one another, never off the paper.

A name starts where its passage starts, on the first row above the marks. Where it does not fit it
is lifted to a higher row, moved left, or broken into two lines, and a thin leader joins it to its
start. Among all such settings of one line the calmest is taken.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from rondel.drawing.lettering import ASCENT, DESCENT, Face, broken_into_lines, width_of
from rondel.model.words import Language

ROW_POINTS = 9.8  # from one row of names to the next above it
GAP_POINTS = 5.0  # kept between two names on one row
LEADER_GAP = 1.4  # kept between a leader and the words it passes
MOST_ROWS = 8

#: How many partial settings are kept while a line is set.
KEPT = 80

#: How many settings of a label are tried with each of them.
BRANCHES = 12

#: What a leader through words costs: more than any setting without one.
CROSSED = 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Words in one face."""

    text: str
    face: Face
    size: float
    fill: str
    language: Language | None = None  # where it is not the page's

    @property
    def width(self) -> float:
        return width_of(self.text, self.face, self.size)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A name to set at `at` (points along the line): `runs` follow one another on one line."""

    at: float
    runs: tuple[Run, ...]
    owner: str = ""  # the id of the passage named

    @property
    def width(self) -> float:
        return sum(r.width for r in self.runs)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A label's lines of runs with their left end; the last line stands on row `row` (0 lowest)."""

    label: Label
    lines: tuple[tuple[Run, ...], ...]
    x: float
    width: float
    row: int

    @property
    def owner(self) -> str:
        return self.label.owner

    @property
    def top_row(self) -> int:
        return self.row + len(self.lines) - 1

    @property
    def has_leader(self) -> bool:
        """True where the words do not start right above the start of the passage."""
        return self.row > 0 or abs(self.x - self.label.at) > 0.5


def row_baseline(row: int, first: float) -> float:
    """Return the baseline of `row`, with row 0 at `first` (y downwards)."""
    return first - row * ROW_POINTS


def row_top(row: int, first: float, size: float) -> float:
    """Return the top of the tallest letters of `row`."""
    return row_baseline(row, first) - ASCENT * size


def row_bottom(row: int, first: float, size: float) -> float:
    """Return the lowest point of the letters of `row`."""
    return row_baseline(row, first) + DESCENT * size


def place(labels: tuple[Label, ...], left: float, right: float) -> tuple[Placed, ...]:
    """Return all labels of one line, set between `left` and `right` without meeting.

    Labels come in order of `at`. None is ever dropped. A beam search: of the settings of the
    labels so far the `KEPT` calmest go on.
    """
    beam: list[tuple[float, tuple[Placed, ...]]] = [(0.0, ())]
    for label in labels:
        options = sorted(((_cost(o), o) for o in _options(label, left, right)), key=lambda c: c[0])
        grown = [step for cost, chosen in beam for step in _grown(cost, chosen, options)]
        beam = sorted(grown, key=lambda g: g[0])[:KEPT]
    return beam[0][1]


def _grown(
    cost: float, chosen: tuple[Placed, ...], options: list[tuple[float, Placed]]
) -> list[tuple[float, tuple[Placed, ...]]]:
    """Return `chosen` with each of the calmest options that do not meet it.

    Where every option meets it, those whose leaders run through words come too, at their price:
    no name is dropped.
    """
    clear, crossed = [], []
    for more, option in options:
        if any(_touches(option, other) for other in chosen):
            continue
        times = sum(_is_crossed(option, o) + _is_crossed(o, option) for o in chosen)
        if times:
            crossed.append((cost + more + CROSSED * times, (*chosen, option)))
        else:
            clear.append((cost + more, (*chosen, option)))
            if len(clear) == BRANCHES:
                break
    return clear or crossed[:BRANCHES]


def _cost(placed: Placed) -> float:
    """Lifting costs most, then breaking, then moving."""
    moved = abs(placed.x - placed.label.at)
    return 3.0 * placed.row + 1.6 * (len(placed.lines) - 1) + (0.6 + 0.02 * moved) * (moved > 0.5)


def _options(label: Label, left: float, right: float) -> Iterator[Placed]:
    """Give every setting worth trying: rows, and beginning at, before or ending at the start."""
    for lines in _breakings(label, right - left):
        width = max(sum(r.width for r in line) for line in lines)
        last = max(right - width, left)
        wanted = (label.at, label.at - width / 2, label.at - width - LEADER_GAP - 0.1)
        for x in sorted({min(max(x, left), last) for x in wanted}):
            for row in range(MOST_ROWS):
                yield Placed(label=label, lines=lines, x=x, width=width, row=row)


def _breakings(label: Label, room: float) -> Iterator[tuple[tuple[Run, ...], ...]]:
    """Give the label whole, if it fits, and broken into lines."""
    whole = (label.runs,)
    if label.width <= room:
        yield whole
    if len(label.runs) > 1 and all(r.width <= room for r in label.runs):
        yield tuple((_trimmed(run),) for run in label.runs)
    longest = max(label.runs, key=lambda r: r.width)
    if label.width > room or longest.width > 150:
        yield tuple(
            (replace(run, text=text),)
            for run in label.runs
            for text in broken_into_lines(
                _trimmed(run).text, run.face, run.size, min(room, max(110.0, longest.width * 0.55))
            )
        )


def _trimmed(run: Run) -> Run:
    return replace(run, text=run.text.strip(" ·"))


def _touches(one: Placed, other: Placed) -> bool:
    """True where the words of both come too near."""
    if one.row > other.top_row or other.row > one.top_row:
        return False
    return one.x < other.x + other.width + GAP_POINTS and other.x < one.x + one.width + GAP_POINTS


def _is_crossed(words: Placed, by: Placed) -> bool:
    """True where the leader of `by` passes through `words`."""
    if not by.has_leader or words.row >= by.row:
        return False
    at = by.label.at
    return words.x - LEADER_GAP < at < words.x + words.width + LEADER_GAP
