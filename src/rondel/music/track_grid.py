"""The beats of a heard track as even bars that hands can follow, without gaps from end to end.

What was heard may begin late, miss beats or be too quick or too slow for hands. Here beats are
filled in where the pulse implies them, the bar line is found by the most downbeats that agree,
and the tempo is taken at a level between the slowest and the quickest that strokes are set to.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rondel.model.track import Heard

#: Slower beats are halved, quicker ones thinned out (our choice; common practice, no source).
SLOWEST_BPM, QUICKEST_BPM = 33.0, 120.0

#: A tempo is met where it is so near (as a share): tempi are told in three figures.
_MET = 0.02

#: Fewer beats than this tell no pulse.
_FEWEST_BEATS = 8

#: A gap longer than so many beats is filled in with beats of its own.
_GAP_BEATS = 1.5

#: In a gap, the bar line is kept by a beat more or less where that is so small a share of it.
_STRETCH = 0.1

#: So much of a bar of a quiet beginning may be left out.
_LITTLE_LEAD = 0.5

#: What the track lasts beyond its last bar line, as a share of a bar: up to here that bar is held
#: longer, beyond it there is one more bar.
_HELD = 0.15

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackGrid:
    """A track as bars: `beats` are the seconds of every beat and of the end, in the track's own
    time; the first may lie before its start. `is_heard` is False where the track gives no pulse
    and the grid is a tempo of our own. `says` tells what was done to the beat."""

    beats_per_bar: int
    beats: tuple[float, ...]
    is_heard: bool
    says: tuple[str, ...] = ()

    @property
    def bars(self) -> int:
        return (len(self.beats) - 1) // self.beats_per_bar

    @property
    def bar_starts(self) -> tuple[float, ...]:
        """The second at which each bar begins, and that of the end."""
        return self.beats[:: self.beats_per_bar]

    @property
    def bar_seconds(self) -> float:
        """The mean length of a bar."""
        return (self.beats[-1] - self.beats[0]) / self.bars


def grid_of(heard: Heard, bpm: Fraction | None, usual_bpm: int) -> TrackGrid:
    """Return the bars of `heard`.

    `bpm` is the tempo asked for: the level nearest to it is taken. `usual_bpm` is what is taken
    where no beat was found at all.
    """
    if len(heard.beats) < _FEWEST_BEATS:
        return _own_tempo(heard, float(bpm or usual_bpm))
    beats, per_bar = _whole(heard), heard.beats_per_bar
    first = _bar_line(heard.downbeats, beats, per_bar)
    own = 60 / float(np.median(np.diff(heard.beats)))
    halves, thin = _level(own, per_bar, bpm)
    if halves:
        middles = (beats[:-1] + beats[1:]) / 2
        beats = np.insert(beats, np.arange(1, len(beats)), middles)
        first *= 2
    joined = {1: 4, 2: 2}.get(per_bar // thin, 1)
    starts = [s.span.start for s in heard.sections if s.span.start > 0]
    first = _bar_line(starts, beats[first::per_bar], joined) * per_bar + first
    found = _begun(heard, beats[first % thin :: thin], first // thin, per_bar // thin * joined)
    found = _ended(heard.seconds, found, per_bar // thin * joined)
    return TrackGrid(
        beats_per_bar=per_bar // thin * joined,
        beats=tuple(float(beat) for beat in found),
        is_heard=True,
        says=_level_says(own, halves, thin, bpm),
    )


def _own_tempo(heard: Heard, bpm: float) -> TrackGrid:
    """Return bars of four beats at a tempo of our own."""
    count = max(1, round(heard.seconds * bpm / 60 / 4)) * 4
    says = (
        f"No beat was found in the track, so the routine keeps a tempo of its own, {bpm:.3g} beats "
        "a minute, and asks for nothing that needs a beat."
    )
    beats = tuple(60 / bpm * i for i in range(count + 1))
    return TrackGrid(beats_per_bar=4, beats=beats, is_heard=False, says=(says,))


def _whole(heard: Heard) -> Floats:
    """Return beats from the start of the track to past its end without gaps."""
    beats = np.array(heard.beats)
    usual = float(np.median(np.diff(beats)))
    parts = [beats[:1]]
    for number, (one, two) in enumerate(pairwise(beats.tolist())):
        count = 1
        if two - one > _GAP_BEATS * usual:
            count = _in_step(heard, beats, number, round((two - one) / usual))
        parts.append(np.linspace(one, two, count + 1)[1:])
    whole = np.concatenate(parts)
    early, late = (float(np.mean(np.diff(some))) for some in (whole[:9], whole[-9:]))
    before = max(0, math.floor(whole[0] / early + 0.02))
    after = max(0, math.ceil((heard.seconds - whole[-1]) / late)) + 2 * heard.beats_per_bar
    return np.concatenate(
        [
            whole[0] - early * np.arange(before, 0, -1),
            whole,
            whole[-1] + late * np.arange(1, after + 1),
        ]
    )


def _in_step(heard: Heard, beats: Floats, number: int, count: int) -> int:
    """Return into how many beats the gap after beat `number` falls: `count`, or the nearest that
    keeps the bar line of the downbeats on both sides."""
    marks = np.array([int(np.argmin(np.abs(beats - second))) for second in heard.downbeats])
    before, after = marks[marks <= number], marks[marks > number]
    if not len(before) or not len(after):
        return count
    per_bar = heard.beats_per_bar
    wanted = -(number - before[-1]) - (after[0] - number - 1)
    more = int((wanted - count) % per_bar)
    more = more - per_bar if 2 * more > per_bar else more
    return count + more if abs(more) <= _STRETCH * count else count


def _bar_line(marks: Sequence[float], beats: Floats, per_bar: int) -> int:
    """Return which of the first `per_bar` beats begins a bar, by the most `marks` (in seconds)."""
    if per_bar == 1 or len(beats) < 2:
        return 0
    usual = float(np.median(np.diff(beats)))
    votes = np.zeros(per_bar)
    for second in marks:
        number = int(np.argmin(np.abs(beats - second)))
        near = abs(float(beats[number]) - second) < usual / 3
        votes[number % per_bar] += near
    return int(np.argmax(votes))


def _level(own: float, per_bar: int, bpm: Fraction | None) -> tuple[bool, int]:
    """Return whether beats are halved, and how many of them make one beat of the routine."""
    thins = [n for n in (2, 3, 4, 6, per_bar) if per_bar % n == 0 and n <= 6]
    if per_bar % 3 == 0:
        thins = [n for n in thins if n % 3 == 0]
    levels = [(True, 1), (False, 1), *((False, n) for n in thins)]

    def tempo(level: tuple[bool, int]) -> float:
        return own * (2 if level[0] else 1) / level[1]

    if bpm is not None:
        return min(levels, key=lambda level: abs(math.log(tempo(level) / float(bpm))))
    if own < SLOWEST_BPM:
        return True, 1
    fitting = [level for level in levels[1:] if SLOWEST_BPM <= tempo(level) <= QUICKEST_BPM]
    return fitting[0] if fitting else (False, 1)


def _level_says(own: float, halves: bool, thin: int, bpm: Fraction | None) -> tuple[str, ...]:
    """Return how the routine counts the track's beat, and why: it is what hands can follow, or as
    near as one may come to what the brief asks for."""
    tempo = own * (2 if halves else 1) / thin
    every = {2: "second", 3: "third", 4: "fourth"}.get(thin, f"{thin}th")
    counts = "counts two to each" if halves else f"counts every {every} one"
    if bpm is not None:
        is_met = abs(tempo / float(bpm) - 1) <= _MET
        if is_met and tempo == own:
            return ()
        how = "keeps to it" if tempo == own else f"{counts}: {tempo:.3g} a minute"
        nearest = "" if is_met else ", which is as near as it comes"
        return (
            f"The brief asks for {float(bpm):.3g} beats a minute; the track's beat is {own:.3g}, "
            f"so the routine {how}{nearest}.",
        )
    if tempo == own:
        return ()
    why = "slow" if halves else "quick for hands"
    return (
        f"The track's beat, {own:.3g} a minute, is {why}, so the routine {counts}: {tempo:.3g} a "
        "minute.",
    )


def _begun(heard: Heard, whole: Floats, first: int, per_bar: int) -> Floats:
    """Return beats from the first bar on, which begins with the beat `first` of `whole`.

    What comes before the first bar line is left out where it is a beat at most, or a little of a
    beginning without a beat; else a bar is counted before, of which the first part is silent.
    """
    beats = whole[first:]
    lead = float(beats[0])
    beat = float(np.mean(np.diff(beats[:9])))
    is_quiet = any(span.holds(0.0) for span in (*heard.beatless, *heard.unsure))
    allowed = max(beat, _LITTLE_LEAD * per_bar * beat) if is_quiet else beat
    if lead <= allowed:
        return beats
    count = per_bar * math.ceil(lead / (per_bar * beat))
    known = whole[max(0, first - count) : first + 1]  # the track's own, where there are any
    before = known[0] - beat * np.arange(count - len(known) + 1, 0, -1)
    return np.concatenate([before, known[:-1], beats])


def _ended(seconds: float, beats: Floats, per_bar: int) -> Floats:
    """Return beats up to the bar line that ends the track, and the end itself."""
    starts = beats[::per_bar]
    bar = float(np.mean(np.diff(starts[-4:])))
    past = int(np.searchsorted(starts, seconds - _HELD * bar, side="left"))
    past = max(1, min(past, len(starts) - 1))
    found = beats[: past * per_bar + 1].copy()
    found[-1] = max(found[-1], seconds)
    return found
