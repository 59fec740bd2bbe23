"""Where the peak is missing, split, too long, in the wrong place or not the highest point.

The peak row runs from the first passage with role `peak` to the last, with the `rest` passages
between and directly after it. Layers over it belong to it. An open passage has no pressure of its
own here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import DEEP, Layer, Role
from rondel.rules.peak import MAX_SECONDS, MAX_SHARE, MIDDLE, RULE

FIRM = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class PeakRow:
    """`inside` and `outside` are passages with a technique, of both layers."""

    row: tuple[Passage, ...]
    inside: tuple[Passage, ...]
    outside: tuple[Passage, ...]

    @property
    def bar(self) -> int:
        return self.row[0].start_bar

    @property
    def pressure(self) -> int:
        return max(p.pressure for p in self.inside)


def findings(view: View) -> Iterator[Finding]:
    peak = peak_row(view)
    for passage in view.passages:
        if passage.layer is not Layer.ONLY and passage.role is not Role.PEAK:
            says = f"{view.place(passage)} is a layer but not of the peak; only there do two layers"
            yield view.finding(RULE, passage.start_bar, f"{says} share their bars.")
    if peak is None:
        says = "No passage is marked as the peak; let one stretch stand out, between 55 and 85"
        yield view.finding(RULE, 0, f"{says} percent of the time.")
        return
    for passage in peak.row:
        if passage.role not in (Role.PEAK, Role.REST):
            says = (
                f"{view.place(passage)} splits the peak, which begins at "
                f"{as_minutes(view.start(peak.row[0]))}; keep the peak in one row."
            )
            yield view.finding(RULE, passage.start_bar, says)
    yield from _place(view, peak)
    if peak.inside:
        yield from _height(view, peak)


def peak_row(view: View) -> PeakRow | None:
    """Return the peak row of the line; None where no passage has the role `peak`."""
    peaks = [i for i, p in enumerate(view.line) if p.role is Role.PEAK]
    if not peaks:
        return None
    past = peaks[-1] + 1
    while past < len(view.line) and view.line[past].role is Role.REST:
        past += 1
    row = view.line[peaks[0] : past]
    first, last = row[0].start_bar, row[-1].end_bar
    worked = [p for p in view.passages if not p.is_open]

    def is_inside(p: Passage) -> bool:
        """Upper layers belong to the row that they lie over."""
        if p.layer is Layer.OVER:
            return first <= p.start_bar and p.end_bar <= last
        return any(p is of for of in row)

    return PeakRow(
        row=row,
        inside=tuple(p for p in worked if is_inside(p)),
        outside=tuple(p for p in worked if not is_inside(p)),
    )


def _place(view: View, peak: PeakRow) -> Iterator[Finding]:
    start, end = view.start(peak.row[0]), view.end(peak.row[-1])
    middle, low, high = (start + end) / 2, *(share * view.total_seconds for share in MIDDLE)
    if not low - ROUNDING_SECONDS <= middle <= high + ROUNDING_SECONDS:
        where = "early" if middle < low else "late"
        says = (
            f"The peak from {as_minutes(start)} to {as_minutes(end)} comes too {where}: its middle "
            f"is at {as_minutes(middle)}; it belongs between {as_minutes(low)} and "
            f"{as_minutes(high)}."
        )
        yield view.finding(RULE, peak.bar, says)
    longest = max(MAX_SECONDS * view.scale, MAX_SHARE * view.total_seconds)
    if end - start > longest + ROUNDING_SECONDS:
        says = (
            f"The peak from {as_minutes(start)} on lasts {end - start:.0f} seconds; {longest:.0f}"
        )
        yield view.finding(RULE, peak.bar, f"{says} are the most.")


def _height(view: View, peak: PeakRow) -> Iterator[Finding]:
    for passage in peak.outside:
        if passage.pressure > peak.pressure:
            says = f"{view.place(passage)} presses at {passage.pressure}, firmer than the peak at"
            yield view.finding(RULE, passage.start_bar, f"{says} {peak.pressure}.")
        if passage.pressure == peak.pressure >= DEEP:
            says = f"{view.place(passage)} presses at {passage.pressure} like the peak; keep its"
            yield view.finding(RULE, passage.start_bar, f"{says} deepest pressure for the peak.")
    if peak.pressure == FIRM:
        yield from _longest_firm(view, peak)
    if peak.pressure < FIRM:
        yield from _most_energy(view, peak)


def _longest_firm(view: View, peak: PeakRow) -> Iterator[Finding]:
    """At 3 the peak is the longest row: no run of neighbours at 3 outside it lasts longer."""
    length = view.seconds(*peak.row)

    def is_firm_outside(p: Passage) -> bool:
        return not p.is_open and p.pressure == FIRM and not any(p is of for of in peak.row)

    for is_run, run in groupby(view.line, key=is_firm_outside):
        passages = tuple(run)
        if is_run and view.seconds(*passages) > length + ROUNDING_SECONDS:
            says = (
                f"From {view.place(passages[0])} on there are {view.seconds(*passages):.0f} "
                f"seconds at {FIRM}, longer than the peak with {length:.0f}; shorten them or "
                "lengthen the peak."
            )
            yield view.finding(RULE, passages[0].start_bar, says)


def _most_energy(view: View, peak: PeakRow) -> Iterator[Finding]:
    inside = [t.energy for p in peak.inside if (t := view.technique(p))]
    if not inside:
        return
    for passage in peak.outside:
        technique = view.technique(passage)
        if technique is not None and technique.energy > max(inside):
            says = (
                f"{view.place(passage)} is livelier ({float(technique.energy):g}) than anything in "
                f"the peak ({float(max(inside)):g}); where all is light, the peak is where energy "
                "is highest."
            )
            yield view.finding(RULE, passage.start_bar, says)
