"""A heard track laid out for a brief: which of its bars the routine has, and what each of them is.

Where the track is not as long as the brief asks, the gentlest way is taken: a stretch is played
again or passed over where both sides are alike, the track fades out early at a phrase, or a tail is
composed after its end. What was done is said in sentences.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from rondel.model.brief import Brief
from rondel.model.routine import Routine
from rondel.model.track import Course, Heard, Laid, Piece, Span
from rondel.music.laying_says import laying_says
from rondel.music.track_bars import TrackBars, bars_of
from rondel.music.track_grid import TrackGrid, grid_of
from rondel.music.track_path import Path, Paths, Wish, seconds_of
from rondel.rules.close import SECONDS as CLOSE_SECONDS
from rondel.rules.length import NOMINAL_BPM
from rondel.rules.opening import SECONDS as OPENING_SECONDS

#: The rule `length` allows one bar; a little of it is kept for rounding.
_WITHIN_BARS = 0.9

#: A bar nearer to the asked time is worth so much of what a listener would notice (our choice).
_NEARER = 0.3

#: About where a peak stands, of the whole time.
_USUAL_PEAK = 0.7

#: A tail is so strong (of 0 to 1): it thins out.
_TAIL_ENERGY = 0.1

#: An early end fades over about so many seconds, and over half of what there is at most.
_FADE_SECONDS = 20.0


def lay_out(heard: Heard, brief: Brief) -> Laid:
    """Return `heard` as the bars of a routine for `brief`; the same for the same arguments.

    The routine lasts the asked minutes within one bar.
    """
    grid = grid_of(heard, brief.bpm, NOMINAL_BPM[brief.intention])
    track = bars_of(heard, grid)
    path = _chosen(track, brief)
    beats, pieces, tail_from = _played(heard, track, path)
    course = _Course(track=track, path=path).course(heard, pieces, tail_from, beats)
    return Laid(
        minutes=brief.minutes,
        beats_per_bar=grid.beats_per_bar,
        beat_seconds=beats,
        course=course,
        says=(*grid.says, *laying_says(heard, brief, course, beats[-1])),
        heard_from=heard.heard_from,
    )


def course_told(heard: Heard, routine: Routine) -> Course:
    """Return what the track of `routine` is in every bar, where the routine does not tell: beats
    are taken at their word, and the track as played from its first second on."""
    beats = routine.music.beat_seconds
    grid = TrackGrid(beats_per_bar=routine.beats_per_bar, beats=beats, is_heard=bool(heard.beats))
    track = bars_of(heard, grid)
    path = Path(
        bars=tuple(range(grid.bars)),
        tail=0,
        fades=False,
        peak_at=round(_USUAL_PEAK * grid.bars),
        cost=0.0,
    )
    played = Piece(source=Span(start=0, end=min(beats[-1], heard.seconds)), at=0.0)
    course = _Course(track=track, path=path).course(heard, (played,), None, beats)
    return replace(course, track_seconds=None)  # whether it fades is not told either


# ---- which bars ---------------------------------------------------------------------------------


def _chosen(track: TrackBars, brief: Brief) -> Path:
    """Return the gentlest way that lasts the asked time within a bar."""
    asked, bar, scale = float(brief.minutes * 60), track.grid.bar_seconds, float(brief.scale)
    lengths = _lengths(track.grid, asked)
    opening = math.ceil(OPENING_SECONDS * scale / bar)
    wish = Wish(
        opening=opening,
        quiet=min(opening, track.quiet_start),
        tail=max(2, round(CLOSE_SECONDS * scale / bar)),
    )
    paths = Paths(track, wish, lengths[-1])
    found = [paths.best(length) for length in lengths]
    near = [p for p in found if _off(track, p, asked) <= _WITHIN_BARS]
    if near:
        return min(near, key=lambda p: p.cost + _NEARER * _off(track, p, asked))
    return _mended(track, min(found, key=lambda p: _off(track, p, asked)), asked)


def _lengths(grid: TrackGrid, asked: float) -> list[int]:
    """Return the numbers of bars that may last `asked` seconds, however the tempo drifts."""
    starts = grid.bar_starts
    span = min(8, grid.bars)
    bars = sorted((b - a) / span for a, b in zip(starts, starts[span:], strict=False))
    low = math.floor(asked / bars[-1]) - 1
    high = math.ceil(asked / bars[0]) + 1
    return list(range(max(4, low), max(5, high) + 1))


def _off(track: TrackBars, path: Path, asked: float) -> float:
    """Return by how many bars (of their mean length) `path` misses the asked seconds."""
    seconds = seconds_of(track, path)
    return abs(seconds - asked) / (seconds / (len(path.bars) + path.tail))


def _mended(track: TrackBars, path: Path, asked: float) -> Path:
    """Return `path` with bars left out at the end, or put there as a tail, until it fits."""
    bars, tail = path.bars, path.tail
    while True:
        now = Path(bars=bars, tail=tail, fades=path.fades, peak_at=path.peak_at, cost=path.cost)
        seconds = seconds_of(track, now)
        if _off(track, now, asked) <= _WITHIN_BARS or len(bars) < 2:
            return now
        if seconds < asked:
            tail += 1
        elif tail:
            tail -= 1
        else:
            bars = bars[:-1]


# ---- how it is played ---------------------------------------------------------------------------


def _runs(path: Path) -> list[tuple[int, int]]:
    """Return the stretches of the track that are played on end, as (first, past) bars."""
    found = []
    for _, run in groupby(enumerate(path.bars), key=lambda pair: pair[1] - pair[0]):
        bars = [bar for _, bar in run]
        found.append((bars[0], bars[-1] + 1))
    return found


def _played(
    heard: Heard, track: TrackBars, path: Path
) -> tuple[tuple[float, ...], tuple[Piece, ...], float | None]:
    """Return the second of every beat of the session and of its end, the pieces that are played,
    and where a tail begins."""
    grid, now = track.grid, 0.0
    starts, per_bar = grid.bar_starts, grid.beats_per_bar
    beats: list[float] = []
    pieces = []
    for first, past in _runs(path):
        begins = starts[first]
        beats += [now + beat - begins for beat in grid.beats[first * per_bar : past * per_bar]]
        source = Span(start=max(0.0, begins), end=min(starts[past], heard.seconds))
        pieces.append(Piece(source=source, at=now + source.start - begins))
        now += starts[past] - begins
    tail_from = now if path.tail else None
    beat = grid.bar_seconds / per_bar
    beats += [now + beat * i for i in range(path.tail * per_bar)]
    now += path.tail * grid.bar_seconds
    return (*(round(b, 6) for b in beats), round(now, 6)), tuple(pieces), tail_from


@dataclass(frozen=True, slots=True, kw_only=True)
class _Course:
    """What every bar of a way through a track is."""

    track: TrackBars
    path: Path

    def course(
        self,
        heard: Heard,
        pieces: tuple[Piece, ...],
        tail_from: float | None,
        beats: tuple[float, ...],
    ) -> Course:
        track, path = self.track, self.path
        tail = (False,) * path.tail
        first, past = self._strongest()
        energies = [track.energy[bar] for bar in path.bars]
        return Course(
            heard=(*(track.heard[bar] for bar in path.bars), *tail),
            energy=(*energies, *(min(_TAIL_ENERGY, energies[-1]) for _ in tail)),
            phrases=self._phrases(),
            turns=self._turns(),
            homes=tuple(i for i, bar in enumerate(path.bars) if bar in track.homes),
            strongest=(first, past),
            stands_out=track.stands_out and path.bars[first] in track.strong,
            pieces=pieces,
            tail_from=tail_from,
            fade_seconds=self._fade(beats) if path.fades else 0.0,
            quiet_seconds=round(max(0.0, track.grid.bar_starts[track.quiet_start]), 6),
            track_seconds=heard.seconds,
        )

    def _seams(self) -> set[int]:
        """Return the bars of the session at which the track goes on from elsewhere."""
        steps = enumerate(pairwise(self.path.bars), start=1)
        return {i for i, (before, bar) in steps if bar != before + 1}

    def _phrases(self) -> tuple[int, ...]:
        path = self.path
        found = {i for i, bar in enumerate(path.bars) if bar in self.track.phrases}
        found |= {0} | self._seams() | ({len(path.bars)} if path.tail else set())
        return tuple(sorted(found))

    def _turns(self) -> tuple[int, ...]:
        bars, track = self.path.bars, self.track
        found = {i for i, bar in enumerate(bars) if i and bar in track.arrivals}
        found |= {i for i in self._seams() if track.section[bars[i]] != track.section[bars[i - 1]]}
        return tuple(sorted(found))

    def _strongest(self) -> tuple[int, int]:
        """Return the run of the strongest bars that is meant for the peak."""
        bars, strong = self.path.bars, self.track.strong
        if not strong & set(bars):
            most = max(self.track.energy[bar] for bar in bars)
            strong = frozenset(b for b in range(len(self.track)) if self.track.energy[b] == most)
        wished = min(self.path.peak_at, len(bars) - 1)
        there = [i for i, bar in enumerate(bars) if bar in strong]
        at = min(there, key=lambda i: abs(i - wished))
        first = past = at
        while first > 0 and bars[first - 1] in strong:
            first -= 1
        while past < len(bars) and bars[past] in strong:
            past += 1
        return first, past

    def _fade(self, beats: tuple[float, ...]) -> float:
        """Return over how many seconds the end fades, from a bar on."""
        per_bar = self.track.grid.beats_per_bar
        starts = beats[::per_bar]
        least = beats[-1] - min(_FADE_SECONDS, beats[-1] / 2)
        return round(beats[-1] - min(starts, key=lambda s: abs(s - least)), 6)
