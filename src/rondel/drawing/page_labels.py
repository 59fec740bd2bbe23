"""Where names stand: above the marks, never on one another, never off the paper.

A name starts where its passage starts, on the first row above the marks. Where it does not fit it
is lifted to a higher row, moved left, or broken into two lines, and a thin leader joins it to its
start. Among all such settings of one line the calmest is taken.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rondel.drawing.lettering import ASCENT, DESCENT, Face, broken_into_lines, width_of

ROW_POINTS = 9.8  # from one row of names to the next above it
GAP_POINTS = 5.0  # kept between two names on one row
LEADER_GAP = 1.4  # kept between a leader and the words it passes

#: How many partial settings are looked at before the best so far is taken.
MOST_STEPS = 6000


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Words in one face."""

    text: str
    face: Face
    size: float
    fill: str

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
    row: int

    @property
    def width(self) -> float:
        return max(sum(r.width for r in line) for line in self.lines)

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

    def rows(self) -> range:
        return range(self.row, self.top_row + 1)


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

    Labels come in order of `at`. None is ever dropped.
    """
    options = [sorted(_options(label, left, right), key=_cost) for label in labels]
    search = _Search(options=options)
    search.run((), 0.0)
    if search.best is None:
        return _stacked(options)
    return search.best


class _Search:
    """Branch and bound over the settings of each label, cheapest first."""

    def __init__(self, options: list[list[Placed]]) -> None:
        self.options = options
        self.best: tuple[Placed, ...] | None = None
        self.best_cost = float("inf")
        self.steps = 0
        least = [_cost(o[0]) for o in options]
        self.rest = [sum(least[i:]) for i in range(len(least) + 1)]

    def run(self, chosen: tuple[Placed, ...], cost: float) -> None:
        if len(chosen) == len(self.options):
            self.best, self.best_cost = chosen, cost
            return
        for option in self.options[len(chosen)]:
            total = cost + _cost(option)
            if total + self.rest[len(chosen) + 1] >= self.best_cost - 1e-9:
                return
            self.steps += 1
            if self.steps > MOST_STEPS and self.best is not None:
                return
            if not any(_meet(option, other) for other in chosen):
                self.run((*chosen, option), total)


def _cost(placed: Placed) -> float:
    """Lifting costs most, then breaking, then moving."""
    moved = abs(placed.x - placed.label.at)
    return 3.0 * placed.row + 1.6 * (len(placed.lines) - 1) + (0.6 + 0.02 * moved) * (moved > 0.5)


def _options(label: Label, left: float, right: float) -> Iterator[Placed]:
    """Give every setting worth trying: rows, and beginning at, before or ending at the start."""
    for lines in _breakings(label, right - left):
        width = max(sum(r.width for r in line) for line in lines)
        last = max(right - width, left)
        wanted = (label.at, last, label.at - width / 2, label.at - width - 1)
        xs = sorted({round(min(max(x, left), last), 3) for x in wanted if x <= last or x == last})
        for x in xs:
            for row in range(6):
                yield Placed(label=label, lines=lines, x=x, row=row)


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
            (Run(text=text, face=run.face, size=run.size, fill=run.fill),)
            for run in label.runs
            for text in broken_into_lines(
                _trimmed(run).text, run.face, run.size, min(room, max(110.0, longest.width * 0.55))
            )
        )


def _trimmed(run: Run) -> Run:
    return Run(text=run.text.strip(" ·"), face=run.face, size=run.size, fill=run.fill)


def _meet(one: Placed, other: Placed) -> bool:
    """True where words come too near, or a leader runs through words."""
    if set(one.rows()) & set(other.rows()):
        apart = one.x >= other.x + other.width + GAP_POINTS
        if not apart and one.x + one.width + GAP_POINTS > other.x:
            return True
    return _is_crossed(one, other) or _is_crossed(other, one)


def _is_crossed(words: Placed, by: Placed) -> bool:
    """True where the leader of `by` passes through `words`."""
    if not by.has_leader or words.row >= by.row:
        return False
    at = by.label.at
    return words.x - LEADER_GAP < at < words.x + words.width + LEADER_GAP


def _stacked(options: list[list[Placed]]) -> tuple[Placed, ...]:
    """Return every label on a row of its own, the later the lower: crowded, but all there."""
    found, row = [], 0
    for choices in reversed(options):
        first = choices[0]
        found.append(Placed(label=first.label, lines=first.lines, x=first.x, row=row))
        row += len(first.lines)
    return tuple(reversed(found))
