"""What was heard, with what the teacher has put right: tempo, bars, where a beat is, sections.

Each function gives back what it is given where there is nothing to put right, and doing a thing
twice changes no more than doing it once.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from rondel.listening.grid import Grid, bars_on, near_ratio
from rondel.model.codec.moments import moment_says
from rondel.model.corrections import Corrections, Moved
from rondel.model.errors import BadInput
from rondel.model.stretches import joined, less, shared_seconds
from rondel.model.track import Heard, Section, Span

#: Beats that were listened for may be this share faster or slower than asked.
NEAR_TEMPO = 0.06
#: A bar that begins further from a beat than this share of one begins between beats: they move.
BETWEEN = 0.35
#: A boundary further than this from where a section is said to begin is another one.
SAME_EDGE_SECONDS = 5.0
#: No section is shorter than this after one of its ends has moved.
LEAST_SECTION_SECONDS = 1.0
#: Places are written to the thousandth of a second.
_SAME_SECONDS = 0.001
#: A section has a beat where none is missing in at least this share of it.
BEAT_SHARE = 0.5
#: What she calls strongest stands out from all else by so much (of 0 to 1).
STANDS_OUT = 0.1


def with_tempo(heard: Heard, bpm: float, hear_again: Callable[[], Heard] | None = None) -> Heard:
    """Return `heard` counted at `bpm`.

    A simple share or multiple of its own tempo keeps its beats and only counts them otherwise.
    For any other, `hear_again` listens for beats near that tempo. Raises BadInput where none are.
    """
    ratio = near_ratio(bpm / heard.bpm) if len(heard.beats) > 1 else None
    if ratio is not None:
        return heard if ratio == 1 else recounted(heard, ratio, None)
    again = hear_again() if hear_again is not None else heard
    if len(again.beats) > 1 and abs(again.bpm / bpm - 1) <= NEAR_TEMPO:
        return replace(again, beatless=heard.beatless, unsure=heard.unsure, sections=heard.sections)
    raise BadInput(
        f"no beats were heard that could be counted at {bpm:.4g} a minute; tap along "
        "with the track instead, with --taps",
        at="the tempo",
    )


def recounted(heard: Heard, ratio: float, anchor: float | None) -> Heard:
    """Return `heard` counted `ratio` times as fast, a beat falling on count `anchor`.

    Without an anchor the first bar begins where it did. Counted faster, every old bar still
    begins a bar; counted slower, bars are laid from the first one on.
    """
    grid = Grid(np.array(heard.beats))
    starts = starts_of(heard) or [0]
    counted = grid.recounted(ratio, starts[0] if anchor is None else anchor, heard.seconds)
    beats = tuple(map(float, counted.beats))
    kept = starts if ratio >= 1 else starts[:1]
    seconds = grid.second_of(np.array(kept, dtype=float))
    places = np.unique(np.rint(counted.count_at(seconds)).astype(int))
    changed = replace(heard, bpm=heard.bpm * ratio, beats=beats, downbeats=())
    return _with_bars(changed, [int(start) for start in places if 0 <= start < len(beats)])


def starts_of(heard: Heard) -> list[int]:
    """Return the counts on which bars begin."""
    if not heard.downbeats or len(heard.beats) < 2:
        return []
    counts = Grid(np.array(heard.beats)).count_at(np.array(heard.downbeats))
    return [int(count) for count in np.rint(counts)]


def _with_bars(heard: Heard, starts: list[int]) -> Heard:
    bars = bars_on(heard.beats, starts or [0], heard.beats_per_bar) if heard.beats else ()
    return replace(heard, downbeats=bars)


def with_beats_per_bar(heard: Heard, beats_per_bar: int) -> Heard:
    """Return `heard` in bars of so many beats, counted from its first bar."""
    if beats_per_bar == heard.beats_per_bar:
        return heard
    return _with_bars(replace(heard, beats_per_bar=beats_per_bar), starts_of(heard)[:1])


def with_bars_at(heard: Heard, seconds: tuple[float, ...]) -> Heard:
    """Return `heard` with a bar beginning at each of `seconds`, ruling until the next.

    Where the first lies clearly between two beats, all beats move so that one falls on it.
    Raises BadInput where no beats are counted there.
    """
    if not seconds:
        return heard
    for second in seconds:
        _refuse_off_beats(heard, Span(start=second, end=second + 0.001), "bar")
    grid = Grid(np.array(heard.beats))
    first = float(grid.count_at(np.array([seconds[0]]))[0])
    if abs(first - round(first)) > BETWEEN:
        grid = grid.recounted(1.0, first, heard.seconds)
        heard = replace(heard, beats=tuple(map(float, grid.beats)), downbeats=())
    last = len(heard.beats) - 1
    counts = np.clip(np.rint(grid.count_at(np.array(seconds))), 0, last).astype(int)
    return _with_bars(heard, sorted({int(count) for count in counts}))


def with_presence(heard: Heard, corrections: Corrections) -> Heard:
    """Return `heard` with a beat, and without, where the teacher says so; both are then sure.

    Raises BadInput where there is to be a beat and none are counted.
    """
    said, none = corrections.with_beat, corrections.without_beat
    if not said and not none:
        return heard
    for span in said:
        _refuse_off_beats(heard, span, "beat")
    track = (Span(start=0.0, end=heard.seconds),)
    beatless = joined((*less(heard.beatless, said), *_within(none, heard.seconds)))
    unsure = less(heard.unsure, (*said, *none))
    sounding = less(track, beatless)
    sections = tuple(
        replace(section, has_beat=shared_seconds(section.span, sounding) >= _enough(section))
        for section in heard.sections
    )
    return replace(heard, beatless=beatless, unsure=unsure, sections=sections)


def _refuse_off_beats(heard: Heard, span: Span, what: str) -> None:
    """Raise BadInput where no beats are counted at `span`, nor within a bar of it."""
    where = f"the {what} at {moment_says(span.start)}"
    if len(heard.beats) < 2:
        raise BadInput("no beats were found in this track; tap along first, with --taps", at=where)
    first, last = heard.beats[0], heard.beats[-1]
    bar = heard.beats_per_bar * (last - first) / (len(heard.beats) - 1)
    if span.end < first - bar or span.start > last + bar:
        start, end = (moment_says(round(second, 1)) for second in (first, last))
        says = f"beats are counted from {start} to {end} only; name a time there, or tap along"
        raise BadInput(f"{says} with --taps", at=where)


def _within(spans: tuple[Span, ...], seconds: float) -> tuple[Span, ...]:
    outside = Span(start=seconds, end=seconds + max((s.end for s in spans), default=0.0) + 1)
    return less(spans, (outside,))


def _enough(section: Section) -> float:
    return BEAT_SHARE * section.span.seconds


def with_moved(heard: Heard, moved: tuple[Moved, ...]) -> Heard:
    """Return `heard` with sections that begin where the teacher says, one move after another.

    A move is put aside where no section begins near its place any more, or where one would vanish:
    sections are heard anew where bars are put right, and her bars come first.
    """
    for move in moved:
        with suppress(BadInput):
            heard = replace(heard, sections=moved_once(heard.sections, move))
    return heard


def with_strongest(heard: Heard, second: float | None) -> Heard:
    """Return `heard` with the section that holds `second` stronger than all others.

    Raises BadInput where no section does.
    """
    if second is None:
        return heard
    if not any(section.span.holds(second) for section in heard.sections):
        says = f"no section is heard at {moment_says(second)}, so none can be the strongest there"
        raise BadInput(says, at="the strongest section")
    return replace(
        heard,
        sections=tuple(
            replace(one, energy=1.0 if one.span.holds(second) else min(one.energy, 1 - STANDS_OUT))
            for one in heard.sections
        ),
    )


def moves_aside(heard: Heard, moved: tuple[Moved, ...]) -> tuple[Moved, ...]:
    """Return those of `moved` that `heard`, which was heard with them, had to put aside."""
    starts = [section.span.start for section in heard.sections[1:]]
    later = [move.of for move in moved]
    return tuple(
        move
        for move in moved
        if all(abs(start - move.to) > _SAME_SECONDS for start in starts)
        and all(abs(of - move.to) > SAME_EDGE_SECONDS for of in later if of != move.of)
    )


def moved_once(sections: tuple[Section, ...], move: Moved) -> tuple[Section, ...]:
    """Return `sections` with one of them beginning where the teacher says.

    Raises BadInput where no section begins near its place, or where one would vanish.
    """
    edges = [section.span.start for section in sections[1:]]
    if _is_moved(edges, move):
        return sections
    place = min(range(len(edges)), key=lambda k: abs(edges[k] - move.of), default=None)
    if place is None or abs(edges[place] - move.of) > SAME_EDGE_SECONDS:
        raise BadInput(no_section_says(move.of, edges), at="the moved section")
    before, after = sections[place], sections[place + 1]
    low = before.span.start + LEAST_SECTION_SECONDS
    high = after.span.end - LEAST_SECTION_SECONDS
    if not low <= move.to <= high:
        first, last = math.ceil(low * 10) / 10, math.floor(high * 10) / 10
        says = f"{moment_says(move.to)} is not between {moment_says(first)} and {moment_says(last)}"
        raise BadInput(f"{says}, where this section can begin", at="the moved section")
    return (
        *sections[:place],
        replace(before, span=Span(start=before.span.start, end=move.to)),
        replace(after, span=Span(start=move.to, end=after.span.end)),
        *sections[place + 2 :],
    )


def _is_moved(edges: Sequence[float], move: Moved) -> bool:
    """True where a section begins at the place that is moved to already, and none on the way."""
    low, high = sorted((move.of, move.to))
    is_there = any(abs(edge - move.to) <= _SAME_SECONDS for edge in edges)
    between = (
        edge
        for edge in edges
        if low - _SAME_SECONDS <= edge <= high + _SAME_SECONDS
        and abs(edge - move.to) > _SAME_SECONDS
    )
    return is_there and not any(between)


def no_section_says(second: float, starts: Sequence[float]) -> str:
    """Return that no section begins about `second`, and where the nearest does."""
    says = f"no section begins about {moment_says(second)}"
    if second < LEAST_SECTION_SECONDS:
        return f"{moment_says(second)} is where the track begins, and its first section with it"
    if not starts:
        return f"{says}; the track was heard as one section, which begins with it"
    near = min(starts, key=lambda start: abs(start - second))
    known = ", ".join(moment_says(round(start, 1)) for start in starts)
    return f"{says}; the nearest begins at {moment_says(round(near, 1))} (of {known})"
