"""The lines of a page: which seconds stand on which line, and where.

A line is one minute of the routine, two or more where a long form would not stay legible, and
half of one on a narrow page.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

#: Up to here, in minutes, a line is one minute; beyond, two where the names leave room.
ONE_MINUTE_LINES_UNTIL = 30.0

#: A line shorter than this, in points, is half a minute: a minute's names would crowd on it.
NARROW_LINE_POINTS = 300.0

#: A remainder up to here, in seconds, does not get a line of its own: the last line holds it.
REMAINDER_SECONDS = 6.0

#: The most of a line's length that names may fill where a line is two minutes.
MOST_CROWDED = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line: it holds the seconds from `start` to `end`, from `left` to `right`.

    `baseline` is the height on which strokes of both hands are drawn. Points, y downwards.
    """

    index: int
    start: float
    end: float
    left: float
    right: float
    baseline: float

    def x_at(self, seconds: float) -> float:
        """Return where `seconds` stands, also for seconds before or after this line."""
        return self.left + (seconds - self.start) * self.points_per_second

    @property
    def points_per_second(self) -> float:
        return (self.right - self.left) / (self.end - self.start)


def seconds_per_line(total_seconds: float, names_points: float, line_points: float) -> float:
    """Return how many seconds a line of the page holds.

    `names_points` is how much room all names need side by side, `line_points` what a line has: a
    long form whose names would crowd on lines of two minutes keeps lines of one.
    """
    if line_points < NARROW_LINE_POINTS:
        return 30.0
    if total_seconds <= ONE_MINUTE_LINES_UNTIL * 60 + REMAINDER_SECONDS:
        return 60.0
    crowding = names_points / (line_points * total_seconds / 120.0)
    return 60.0 if crowding > MOST_CROWDED else 120.0


def line_spans(total_seconds: float, per_line: float) -> tuple[tuple[float, float], ...]:
    """Return the first and last second of every line, gapless from 0 to `total_seconds`."""
    spans = []
    start = 0.0
    while total_seconds - start > per_line + REMAINDER_SECONDS:
        spans.append((start, start + per_line))
        start += per_line
    spans.append((start, total_seconds))
    return tuple(spans)


def set_lines(
    spans: tuple[tuple[float, float], ...],
    baselines: tuple[float, ...],
    *,
    left: float,
    right: float,
) -> tuple[Line, ...]:
    """Return the lines at one scale: the longest reaches from `left` to `right`."""
    longest = max(end - start for start, end in spans)
    scale = (right - left) / longest
    return tuple(
        Line(
            index=i,
            start=start,
            end=end,
            left=left,
            right=left + (end - start) * scale,
            baseline=baseline,
        )
        for i, ((start, end), baseline) in enumerate(zip(spans, baselines, strict=True))
    )


def pieces(
    lines: tuple[Line, ...], start: float, end: float, *, least: float = 1e-6
) -> Iterator[tuple[Line, float, float]]:
    """Give each line that holds a part of [start, end] with that part, in order."""
    for line in lines:
        first, last = max(start, line.start), min(end, line.end)
        if last - first > least:
            yield line, first, last


def point_at(lines: tuple[Line, ...], seconds: float) -> tuple[float, float]:
    """Return the point on the lines that `seconds` reaches, held at the ends of the routine."""
    inside = min(max(seconds, lines[0].start), lines[-1].end)
    for line in lines:
        if inside < line.end:
            return line.x_at(inside), line.baseline
    return lines[-1].right, lines[-1].baseline
