"""Staying near a routine, or away from others: an extra cost a bar, and how much is shared."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from rondel.model.routine import Routine
from rondel.model.track import Course, Laid
from rondel.model.words import Role
from rondel.planner.blocks import Block, Kind
from rondel.planner.table import Floats, Ints

CHANGED = 10.0  # a bar that is no longer what it was; far above what quality can weigh
#: The same where a track is laid out otherwise: as much as a passage off its phrase weighs, or else
#: passages would begin where they did in the music, phrases or not. Tried with 10, 3 and 1.
CHANGED_ELSEWHERE = 1.0
FIRMER = 1.0  # between levels: a bar that differs in pressure alone
ASTRAY = 10.0  # between levels: a bar by which a return or the peak moves

#: What is done in a bar: technique, side and pressure.
Done = tuple[str | None, str, int]


def bars_of(routine: Routine) -> tuple[Done, ...]:
    """Return what is done in every bar of the line."""
    return tuple((p.technique, p.side, p.pressure) for p in routine.line for _ in range(p.bars))


def share_alike(one: Routine, other: Routine) -> float:
    """Return the share of bars in which both do the same technique on the same side."""
    a, b = bars_of(one), bars_of(other)
    same = sum(x[:2] == y[:2] for x, y in zip(a, b, strict=False))
    return same / max(len(a), len(b), 1)


def home_in(routine: Routine) -> tuple[tuple[str | None, int, int], ...]:
    """Return the refrain of `routine` as (technique, pressure, bars) of its passages."""
    returns = routine.refrains
    return tuple((p.technique, p.pressure, p.bars) for p in returns[0]) if returns else ()


def peak_in(routine: Routine) -> int | None:
    """Return the pressure of the peak of `routine`, None where it has no peak."""
    return max((p.pressure for p in routine.line if p.role is Role.PEAK), default=None)


class Likeness:
    """Counts the bars in which a block does what a routine does there.

    With `by_pressure` the pressure must be the same, too. `places` are the bars of the routine that
    bars are held to, where these are others than themselves (None: to no bar).
    """

    def __init__(
        self, routine: Routine, *, by_pressure: bool, places: Sequence[int | None] | None = None
    ) -> None:
        self._depth = 3 if by_pressure else 2
        done = [done[: self._depth] for done in bars_of(routine)]
        self._done: list[tuple[object, ...] | None] = [
            None if place is None or place >= len(done) else done[place]
            for place in (range(len(done)) if places is None else places)
        ]
        self._sums: dict[tuple[object, ...], Ints] = {}

    def _sum(self, wanted: tuple[object, ...]) -> Ints:
        """Return how many bars before each bar do `wanted`."""
        if wanted not in self._sums:
            alike = np.array([done == wanted for done in self._done], dtype=np.int64)
            self._sums[wanted] = np.concatenate([[0], np.cumsum(alike)])
        return self._sums[wanted]

    def table(self, blocks: list[Block], bars: Ints) -> Floats:
        """Return the bars alike, for every block (a row) begun at each of `bars`."""
        found = np.zeros((len(blocks), len(bars)))
        last = len(self._done)
        for i, block in enumerate(blocks):
            at = 0
            for part in block.parts:
                wanted = (_id(block, part.technique), part.side, part.pressure)[: self._depth]
                sums = self._sum(wanted)
                end = np.minimum(bars + at + part.bars, last)
                found[i] += sums[end] - sums[np.minimum(bars + at, last)]
                at += part.bars
        return found


class Near:
    """A cost for every bar that differs from a routine in technique, side or pressure.

    Bars are held to bars of the same number; where both are set to one track that is `laid` out
    otherwise now, to those in which the same music is heard.
    """

    def __init__(self, routine: Routine, laid: Laid | None = None) -> None:
        places = None if laid is None else places_by_music(routine, laid)
        self._price = CHANGED if places is None else CHANGED_ELSEWHERE
        self._likeness = Likeness(routine, by_pressure=True, places=places)

    def table(self, blocks: list[Block], bars: Ints) -> Floats:
        """Return the cost of every block (a row) begun at each of `bars`."""
        lengths = np.array([b.bars for b in blocks], dtype=np.float64)[:, None]
        return self._price * (lengths - self._likeness.table(blocks, bars))


def places_by_music(routine: Routine, laid: Laid) -> tuple[int | None, ...] | None:
    """Return for every bar of `laid` the bar of `routine` in which the same music is heard, the
    nearest in time of several, None where there is none; None where nothing is to be found so:
    the routine is set to other music, or to the very same bars."""
    music = routine.music
    if music.course is None or _is_other_track(routine, laid):
        return None
    beats, starts = routine.clock, laid.bar_starts
    before = [float(beats.seconds_at_bar(bar)) for bar in range(routine.bars + 1)]
    if before == list(starts) and music.course.pieces == laid.course.pieces:
        return None
    played = _played(music.course, before)
    found: list[int | None] = []
    for bar, span in enumerate(_played(laid.course, starts)):
        from_end = routine.bars - laid.bars + bar
        if span is None:  # composed: the end is held to the end
            is_tail = 0 <= from_end < routine.bars and played[from_end] is None
            found.append(from_end if is_tail else None)
            continue
        middle = (span[0] + span[1]) / 2
        same = (k for k, other in enumerate(played) if other and other[0] <= middle < other[1])
        found.append(min(same, key=lambda k: abs(before[k] - starts[bar]), default=None))
    return tuple(found)


def _is_other_track(routine: Routine, laid: Laid) -> bool:
    one, other = routine.music.heard_from, laid.heard_from
    return one is not None and other is not None and one.track != other.track


def _played(course: Course, starts: Sequence[float]) -> list[tuple[float, float] | None]:
    """Return from which to which second of the track each bar is played; None where it is composed.
    Of a bar with a seam in it, what is played in its middle counts."""
    found: list[tuple[float, float] | None] = []
    for first, past in pairwise(starts):
        middle = (first + past) / 2
        piece = next((p for p in course.pieces if p.at <= middle < p.end), None)
        shift = None if piece is None else piece.source.start - piece.at
        found.append(None if shift is None else (first + shift, past + shift))
    return found


class Kin:
    """A cost for every bar that differs from a routine of another level, a small one where only the
    pressure does; and for every bar that the peak or a return stands away from where it stood."""

    def __init__(self, routine: Routine) -> None:
        self._alike = Likeness(routine, by_pressure=False)
        self._same = Likeness(routine, by_pressure=True)
        self._returns = np.array([row[0].start_bar for row in routine.refrains], dtype=np.int64)
        peak = [p for p in routine.line if p.role is Role.PEAK]
        self._peak = (peak[0].start_bar, peak[-1].end_bar) if peak else (0, routine.bars)

    def table(self, blocks: list[Block], bars: Ints) -> Floats:
        """Return the cost of every block (a row) begun at each of `bars`."""
        lengths = np.array([b.bars for b in blocks], dtype=np.float64)[:, None]
        alike = self._alike.table(blocks, bars)
        cost = CHANGED * (lengths - alike) + FIRMER * (alike - self._same.table(blocks, bars))
        peaks = np.array([b.kind is Kind.PEAK for b in blocks])[:, None]
        homes = np.array([b.kind is Kind.HOME for b in blocks])[:, None]
        middles = bars[None, :] + lengths / 2
        first, last = self._peak
        away = np.maximum(0.0, np.maximum(first - middles, middles - last))
        cost += np.where(peaks, ASTRAY * away, 0.0)
        if len(self._returns):
            moved = np.abs(bars[None, :, None] - self._returns).min(axis=2)
            cost += np.where(homes, ASTRAY * moved, 0.0)
        return cost


class Away:
    """A `cost` for every bar that does what one of some routines does there, once for each."""

    def __init__(self, routines: tuple[Routine, ...], cost: float) -> None:
        self._likenesses = [Likeness(r, by_pressure=False) for r in routines]
        self._cost = cost

    def table(self, blocks: list[Block], bars: Ints) -> Floats:
        """Return the cost of every block (a row) begun at each of `bars`."""
        total = np.zeros((len(blocks), len(bars)))
        for likeness in self._likenesses:
            total += likeness.table(blocks, bars)
        return self._cost * total


def _id(block: Block, number: int) -> str | None:
    """Return the name of a technique of `block`; None for open bars."""
    return block.ids[block.numbers.index(number)] if number >= 0 else None
