"""The takes that a passage of a routine is shown with: which strokes of them, and how fast."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from rondel.fitting.choosing import Limits, Stroke, choose
from rondel.fitting.holding import held_shots
from rondel.fitting.named import NamedTake
from rondel.fitting.timing import time_map
from rondel.model.routine import Passage, Routine
from rondel.model.shots import FittedPassage, Shot
from rondel.model.take import MotionKind, Seen, SeenStretch
from rondel.model.track import Span
from rondel.model.words import Side

#: A stroke that lasts so many times as long as usual holds something else too.
_LONG = 2.5
#: A cut this near to a bar line (beats) is on it.
_NEAR_BAR_BEATS = 0.05
#: Why a passage is drawn that nobody filmed.
NOT_NAMED = "no take is named as this technique"


def fit_passage(
    routine: Routine, passage: Passage, takes: Sequence[NamedTake], limits: Limits | None = None
) -> FittedPassage:
    """Return `passage` with the strokes of `takes` that fit its beats best.

    Where its takes show hands that rest, and no strokes, they are held for its whole length.
    """
    limits = limits or Limits()
    clock = routine.clock
    beats = tuple(float(clock.seconds_at(beat)) for beat in routine.landings(passage))
    empty = FittedPassage(passage=passage.id, technique=passage.technique, beats=beats)
    if passage.is_open or not beats:
        return empty
    own = [one for take in takes if (one := _of_passage(passage, take, limits)) is not None]
    if not own:
        return replace(empty, why_not=NOT_NAMED)
    strokes, sources = _strokes(own, limits)
    if not strokes:
        # Only hands in which no motion at all was seen are at rest.
        still = [(one.take, one.is_mirrored) for one in own if not one.take.seen.stretches]
        span = (routine.start_seconds(passage), routine.end_seconds(passage))
        held = held_shots(span, still, limits)
        why_not = "" if held else "no whole stroke of it was seen without a slip or a rest"
        shown = [one for one in own if held and one.take.name == held[0].take]
        return replace(empty, shots=held, why_not=why_not, notes=tuple(_sides(passage, shown)))
    whole = _edges(routine, passage, beats)
    edges = _parted(whole, strokes)
    row = choose(edges, strokes, limits, on_bar=_on_bar(routine, edges))
    if row is None:
        ways = 1 if len(edges) == len(whole) else 2
        filmed = ways if _is_to_and_fro(own) else 1
        return replace(empty, why_not=_why_not(edges, strokes, limits, (filmed, ways)))
    shots = tuple(_shots(row, edges, strokes, sources, limits))
    return replace(empty, shots=shots, notes=tuple(_notes(passage, row, strokes, sources)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Own:
    """A take that shows a passage: with which stretches of it, and whether as in a mirror."""

    take: NamedTake
    stretches: tuple[SeenStretch, ...]
    is_mirrored: bool


def _of_passage(passage: Passage, take: NamedTake, limits: Limits) -> _Own | None:
    """Return what of a take shows the technique of `passage` on its side; None for nothing."""
    shown = take.seen.side
    is_other = (
        shown is not None
        and shown is not Side.BOTH
        and passage.side.is_one_sided
        and shown is not passage.side
    )
    if is_other and not limits.mirrors:
        return None
    stretches = tuple(one for one in take.seen.stretches if one.technique == passage.technique)
    if not stretches and take.technique != passage.technique:
        return None
    return _Own(take=take, stretches=stretches, is_mirrored=is_other)


def _strokes(own: Sequence[_Own], limits: Limits) -> tuple[list[Stroke], list[_Own]]:
    """Return all whole strokes without a rest in them, and what each is of.

    Those with a slip are left out too, unless slips may be shown.
    """
    strokes: list[Stroke] = []
    sources: list[_Own] = []
    number = 0
    for one in own:
        angle = one.take.seen.angle or one.take.name
        for stretch in one.stretches:
            for start, end in pairwise(stretch.landings):
                slips = _meets(stretch.slips, start, end)
                still = (*stretch.pauses, *one.take.seen.away)
                rests = _meets(still, start, end) or _meets_cut(one.take.seen, start, end)
                if rests or (slips and not limits.shows_slips):
                    continue
                if end - start <= _LONG * stretch.period:
                    strokes.append(
                        Stroke(take=number, start=start, end=end, angle=angle, has_slip=slips)
                    )
                    sources.append(one)
            number += 1
    return strokes, sources


def _meets(spans: Sequence[Span], start: float, end: float) -> bool:
    return any(span.start < end and start < span.end for span in spans)


def _meets_cut(seen: Seen, start: float, end: float) -> bool:
    return any(start < cut < end for cut in seen.cuts)


def _on_bar(routine: Routine, edges: Sequence[float]) -> list[bool]:
    """Return which of `edges` (seconds) are where a bar begins."""
    found = []
    for second in edges:
        bars = float(routine.clock.beat_at(second)) / routine.beats_per_bar
        found.append(abs(bars - round(bars)) * routine.beats_per_bar < _NEAR_BAR_BEATS)
    return found


def _notes(
    passage: Passage, row: Sequence[int], strokes: Sequence[Stroke], sources: Sequence[_Own]
) -> Iterator[str]:
    """Yield what a teacher should know of the strokes that were chosen."""
    loops = 0
    for one, two in pairwise(row):
        a, b = strokes[one], strokes[two]
        loops += a.take == b.take and b.start <= a.start
    if loops:
        times = "once" if loops == 1 else f"{loops} times"
        yield f"what was filmed is too short and is shown again {times}; film more of it"
    yield from _sides(passage, [sources[n] for n in row])
    slips = sum(strokes[n].has_slip for n in set(row))
    if slips:
        yield f"{'one slip is' if slips == 1 else f'{slips} slips are'} left to be seen"


def _sides(passage: Passage, shown: Sequence[_Own]) -> Iterator[str]:
    """Yield what a teacher should know of the sides of what is shown."""
    if any(one.is_mirrored for one in shown):
        yield "it is shown as in a mirror"
    sides = {one.take.seen.side for one in shown} & {Side.LEFT, Side.RIGHT}
    if passage.side is Side.BOTH and sides:
        yield "film of one side stands for both"


def _edges(routine: Routine, passage: Passage, beats: tuple[float, ...]) -> list[float]:
    """Return the landings with those that film needs before and after, to cover the passage."""
    start, end = routine.start_seconds(passage), routine.end_seconds(passage)
    if len(beats) > 1:
        first, last = beats[1] - beats[0], beats[-1] - beats[-2]
    else:
        beat = routine.seconds_of(passage) / (passage.bars * routine.beats_per_bar)
        first = last = float(passage.beats_per_stroke) * beat
    edges = list(beats)
    while edges[0] > start + 1e-6:
        edges.insert(0, edges[0] - first)
    while edges[-1] < end - 1e-6:
        edges.append(edges[-1] + last)
    return edges


def _parted(edges: list[float], strokes: Sequence[Stroke]) -> list[float]:
    """Return `edges` with one more between each two where the take turns twice a stroke.

    Hands that go to and fro are seen to land at both ends of their way; a stroke of a routine goes
    there and back, and lands once. Whichever asks for less change of speed is meant.
    """
    if not strokes or len(edges) < 2:
        return edges
    filmed = float(np.median([stroke.seconds for stroke in strokes]))
    wanted = float(np.median(np.diff(edges)))
    if abs(np.log(filmed / wanted)) <= abs(np.log(2 * filmed / wanted)):
        return edges
    middles = [(a + b) / 2 for a, b in pairwise(edges)]
    return [t for pair in zip(edges, middles, strict=False) for t in pair] + [edges[-1]]


def _is_to_and_fro(own: Sequence[_Own]) -> bool:
    """True where a stroke of what was seen is one way of two; circles and presses are whole."""
    kinds = [stretch.kind for one in own for stretch in one.stretches]
    return any(kind in (MotionKind.GLIDE, MotionKind.ALTERNATE) for kind in kinds)


def _why_not(
    edges: Sequence[float], strokes: Sequence[Stroke], limits: Limits, ways: tuple[int, int]
) -> str:
    """Return why `strokes` cannot be shown between `edges`; seconds are told of whole strokes, of
    which each that was filmed, and each of the routine, is one of so many `ways`."""
    wanted = float(np.median(np.diff(edges)))
    if not strokes:
        return "no whole stroke of it was seen without a slip or a rest"
    filmed = float(np.median([stroke.seconds for stroke in strokes]))
    if not limits.slowest <= filmed / wanted <= limits.fastest:
        filmed, wanted = filmed * ways[0], wanted * ways[1]
        how = "slow" if filmed > wanted else "quick"
        return (
            f"its strokes were filmed too {how}: {filmed:.1f} seconds each, where the routine has "
            f"{wanted:.1f}"
        )
    return (
        "no row of its strokes is even enough for the beat, and as long as the shortest shot "
        f"({limits.shortest_shot:.3g} seconds)"
    )


def _shots(
    row: tuple[int, ...],
    edges: Sequence[float],
    strokes: Sequence[Stroke],
    sources: Sequence[_Own],
    limits: Limits,
) -> list[Shot]:
    found: list[Shot] = []
    first = 0
    for n in range(1, len(row) + 1):
        goes_on = n < len(row) and _goes_on(strokes[row[n - 1]], strokes[row[n]])
        if goes_on:
            continue
        beats = tuple(edges[first : n + 1])
        landings = (strokes[row[first]].start, *(strokes[k].end for k in row[first:n]))
        played = time_map(beats, landings, slowest=limits.slowest, fastest=limits.fastest)
        source = sources[row[first]]
        found.append(
            Shot(
                take=source.take.name,
                map=played,
                beats=beats,
                landings=landings,
                is_mirrored=source.is_mirrored,
            )
        )
        first = n
    return found


def _goes_on(one: Stroke, two: Stroke) -> bool:
    return one.take == two.take and abs(one.end - two.start) < 1e-6
