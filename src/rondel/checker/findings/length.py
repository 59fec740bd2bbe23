"""Where passages leave gaps or overlap, and where the routine is not as long as asked.

Layers belong here too: an upper layer shares the bars of a lower one, and no others.
A tempo that the brief fixes has to be the routine's. A free one is the usual tempo of the brief's
intention, 1.5 % more or less.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import Layer
from rondel.rules.curve import AIM_SAYS
from rondel.rules.length import MAX_NUDGE, NOMINAL_BPM, RULE, TOLERANCE_SECONDS

#: A tempo is the brief's where it differs by less than this share (numbers written as decimals).
SAME_TEMPO = 0.001

#: Beats a minute are compared to a thousandth, as a routine may write them rounded.
ROUNDING_BPM = 0.001


def findings(view: View) -> Iterator[Finding]:
    for trouble in view.troubles:
        yield view.finding(RULE, 0, trouble)
    yield from _order(view)
    yield from _gaps(view)
    yield from _layers(view)
    if view.brief is not None:
        yield from _asked_time(view)
        yield from _asked_tempo(view)


def _order(view: View) -> Iterator[Finding]:
    for before, after in pairwise(view.listed):
        if after.start_bar < before.start_bar:
            says = f"{view.place(after)} is listed after {view.place(before)}, which comes later"
            yield view.finding(RULE, after.start_bar, f"{says}; put the passages in order.")


def _gaps(view: View) -> Iterator[Finding]:
    line = view.line
    if not line:
        yield view.finding(RULE, 0, "Every passage is an upper layer; each needs one to lie over.")
        return
    if line[0].start_bar > 0:
        says = f"Nothing is planned before {view.place(line[0])}; begin at the first bar."
        yield view.finding(RULE, 0, says)
    for before, after in pairwise(line):
        bars = after.start_bar - before.end_bar
        if bars > 0:
            places = f"{view.place(before)} and {view.place(after)}"
            says = f"Between {places}, {_bars(bars)} stand empty"
            yield view.finding(RULE, before.end_bar, f"{says}; fill them or move up what follows.")
        if bars < 0:
            says = f"{view.place(after)} begins {_bars(-bars)} before {view.place(before)} is over"
            yield view.finding(RULE, after.start_bar, f"{says}; shorten one or move the other.")
    last = max(line, key=lambda p: p.end_bar)
    bars = view.routine.bars - last.end_bar
    if bars > 0:
        says = f"After {view.place(last)}, {_bars(bars)} at the end stand empty; fill them."
        yield view.finding(RULE, last.end_bar, says)
    if bars < 0:
        says = f"{view.place(last)} goes on for {_bars(-bars)} after the routine's last bar"
        yield view.finding(RULE, last.start_bar, f"{says}; shorten it or lengthen the routine.")


def _bars(count: int) -> str:
    return "one bar" if count == 1 else f"{count} bars"


def _layers(view: View) -> Iterator[Finding]:
    under = [p for p in view.passages if p.layer is Layer.UNDER]
    over = [p for p in view.passages if p.layer is Layer.OVER]
    for passage in over:
        if not _is_covered(passage, under):
            says = (
                f"{view.place(passage)} is an upper layer, but nothing lies under all of its bars"
            )
            yield view.finding(RULE, passage.start_bar, f"{says}; add a lower layer to it.")
    for before, after in pairwise(over):
        if after.start_bar < before.end_bar:
            says = f"{view.place(after)} and {view.place(before)} are both upper layers at once"
            yield view.finding(RULE, after.start_bar, f"{says}; two hands hold two layers at most.")
    for passage in under:
        if not any(_overlap(passage, p) for p in over):
            says = f"{view.place(passage)} is a lower layer, but nothing lies over it"
            yield view.finding(RULE, passage.start_bar, f"{says}; let it stand alone.")


def _overlap(one: Passage, other: Passage) -> bool:
    return one.start_bar < other.end_bar and other.start_bar < one.end_bar


def _is_covered(passage: Passage, under: list[Passage]) -> bool:
    """True where the lower layers, in order, leave no bar of `passage` bare."""
    covered_to = passage.start_bar
    for lower in under:
        if lower.start_bar <= covered_to:
            covered_to = max(covered_to, lower.end_bar)
    return covered_to >= passage.end_bar


def _asked_time(view: View) -> Iterator[Finding]:
    assert view.brief is not None
    asked = float(view.brief.minutes) * 60
    is_fixed = view.brief.bpm is not None or view.is_with_track
    allowed = view.bar_seconds if is_fixed else TOLERANCE_SECONDS
    off = view.total_seconds - asked
    if abs(off) > allowed + ROUNDING_SECONDS:
        direction = "longer" if off > 0 else "shorter"
        room = f"one bar, {allowed:.1f} seconds," if is_fixed else f"{allowed} seconds"
        says = (
            f"The routine lasts {as_minutes(view.total_seconds)}, {abs(off):.1f} seconds "
            f"{direction} than the {as_minutes(asked)} asked for, and up to {room} will do. "
            "Change its bars, or its tempo a little."
        )
        yield view.finding(RULE, view.routine.bars - 1, says)


def _asked_tempo(view: View) -> Iterator[Finding]:
    assert view.brief is not None
    bpm = view.brief.bpm
    if view.is_with_track or view.routine.music.beat_seconds:
        return
    if bpm is None:
        yield from _free_tempo(view)
        return
    for tempo in view.routine.tempo:
        if abs(tempo.bpm / bpm - 1) > SAME_TEMPO:
            says = (
                f"The brief fixes {float(bpm):g} beats a minute, but from "
                f"{as_minutes(view.at(tempo.bar))} on it is {float(tempo.bpm):g}."
            )
            yield view.finding(RULE, min(tempo.bar, view.routine.bars - 1), says)


def _free_tempo(view: View) -> Iterator[Finding]:
    """Where a tempo that nobody fixed lies further from the usual one than a nudge."""
    usual = NOMINAL_BPM[view.intention]
    slowest, fastest = usual * (1 - MAX_NUDGE), usual * (1 + MAX_NUDGE)
    for tempo in view.routine.tempo:
        bpm = float(tempo.bpm)
        if bpm < slowest - ROUNDING_BPM or bpm > fastest + ROUNDING_BPM:
            says = (
                f"From {as_minutes(view.at(tempo.bar))} on there are {bpm:.4g} beats a minute, but "
                f"{AIM_SAYS[view.intention]} they are {slowest:.4g} to {fastest:.4g}, unless the "
                "brief fixes them with the key bpm."
            )
            yield view.finding(RULE, min(tempo.bar, view.routine.bars - 1), says)
