"""The takes that a passage of a routine is shown with: which strokes of them, and how fast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from rondel.fitting.choosing import Limits, Stroke, choose
from rondel.fitting.timing import TimeMap, time_map
from rondel.model.routine import Passage, Routine
from rondel.model.take import Seen, SeenStretch
from rondel.model.words import Side

#: A stroke that lasts so many times as long as usual holds something else too.
_LONG = 2.5


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedTake:
    """A take called `name`, and what was seen in it."""

    name: str
    seen: Seen


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A part of a take that is shown without a cut. `beats`: where strokes should land, in seconds
    of the session; `landings`: those strokes, in seconds of the take."""

    take: str
    map: TimeMap
    beats: tuple[float, ...]
    landings: tuple[float, ...]

    @property
    def off(self) -> tuple[float, ...]:
        """How much later than its beat each stroke is shown to land, in seconds."""
        return tuple(
            self.map.when(landing) - beat
            for landing, beat in zip(self.landings, self.beats, strict=True)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedPassage:
    """A passage with its shots; none where no take fits, and `why_not` then says why.

    `beats`: the session seconds of its landings.
    """

    passage: str
    technique: str | None
    beats: tuple[float, ...]
    shots: tuple[Shot, ...] = ()
    why_not: str = ""

    @property
    def off(self) -> tuple[float, ...]:
        """How much later each landing of the passage is shown than it sounds, in seconds."""
        wanted = set(self.beats)
        pairs = [pair for shot in self.shots for pair in zip(shot.beats, shot.off, strict=True)]
        return tuple(off for beat, off in pairs if beat in wanted)

    @property
    def speeds(self) -> tuple[float, float] | None:
        """The slowest and the fastest that film is played; None without film."""
        speeds = [speed for shot in self.shots for speed in shot.map.speeds]
        return (min(speeds), max(speeds)) if speeds else None


def fit_passage(
    routine: Routine, passage: Passage, takes: Sequence[NamedTake], limits: Limits | None = None
) -> FittedPassage:
    """Return `passage` with the strokes of `takes` that fit its beats best."""
    limits = limits or Limits()
    clock = routine.clock
    beats = tuple(float(clock.seconds_at(beat)) for beat in routine.landings(passage))
    empty = FittedPassage(passage=passage.id, technique=passage.technique, beats=beats)
    if passage.is_open or not beats:
        return empty
    own = [(take, one) for take in takes for one in _stretches_for(passage, take)]
    if not own:
        return _without(empty, "no take is named as this technique")
    strokes, names = _strokes(own)
    edges = _parted(_edges(routine, passage, beats), strokes)
    row = choose(edges, strokes, limits) if strokes else None
    if row is None:
        return _without(empty, _why_not(edges, strokes, limits))
    shots = tuple(_shots(row, edges, strokes, names, limits))
    return FittedPassage(passage=passage.id, technique=passage.technique, beats=beats, shots=shots)


def _without(empty: FittedPassage, why_not: str) -> FittedPassage:
    return FittedPassage(
        passage=empty.passage, technique=empty.technique, beats=empty.beats, why_not=why_not
    )


def _stretches_for(passage: Passage, take: NamedTake) -> list[SeenStretch]:
    """Return the stretches that show the technique of `passage` on its side."""
    shown = take.seen.side
    if shown is not None and passage.side.is_one_sided and shown not in (passage.side, Side.BOTH):
        return []
    return [one for one in take.seen.stretches if one.technique == passage.technique]


def _strokes(own: Sequence[tuple[NamedTake, SeenStretch]]) -> tuple[list[Stroke], list[str]]:
    """Return all whole strokes without a slip or a rest in them, and the take of each."""
    strokes: list[Stroke] = []
    names: list[str] = []
    for number, (take, one) in enumerate(own):
        marred = (*one.slips, *one.pauses)
        for start, end in pairwise(one.landings):
            is_whole = not any(span.start < end and start < span.end for span in marred)
            if is_whole and end - start <= _LONG * one.period:
                strokes.append(Stroke(take=number, start=start, end=end))
                names.append(take.name)
    return strokes, names


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


def _why_not(edges: Sequence[float], strokes: Sequence[Stroke], limits: Limits) -> str:
    wanted = float(np.median(np.diff(edges)))
    if not strokes:
        return "no whole stroke of it was seen without a slip or a rest"
    filmed = float(np.median([stroke.seconds for stroke in strokes]))
    if not limits.slowest <= filmed / wanted <= limits.fastest:
        how = "slow" if filmed > wanted else "quick"
        return (
            f"its strokes were filmed too {how}: {filmed:.1f} seconds each, where the routine "
            f"has {wanted:.1f}"
        )
    return "no row of its strokes is even enough, or long enough, for the beat"


def _shots(
    row: tuple[int, ...],
    edges: Sequence[float],
    strokes: Sequence[Stroke],
    names: Sequence[str],
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
        found.append(Shot(take=names[row[first]], map=played, beats=beats, landings=landings))
        first = n
    return found


def _goes_on(one: Stroke, two: Stroke) -> bool:
    return one.take == two.take and abs(one.end - two.start) < 1e-6
