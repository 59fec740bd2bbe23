"""The gentlest way through a track that lasts as long as a routine: which bar follows which.

The track is played from its first bar on. At good places it may go back and play a stretch again,
or pass one over; it may fade out before its end, or be followed by a tail. Each of these costs what
a listener would notice of it, and the cheapest way of a given length is found bar by bar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.music.track_bars import TrackBars

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: What a listener would notice, in the order of what is gentlest: to play again or to pass over
#: where both sides are alike, to fade out early, to go on with a tail (our choices; common
#: practice, no source).
_SEAM = 1.0
_OTHER_SECTION = 1.5  # into the midst of another section
_NEW_SECTION = 0.6  # from the end of one section to the start of another
_ENERGY = 4.0  # for a step over the whole range of energy
_BEAT = 2.0  # from where a beat is heard to where none is, or back
_RISE = 6.0  # a rise is cut off
_RISE_ASTRAY = 2.0  # a rise arrives somewhere else
_TIED = 2.0  # a motif is cut off, or begun in its midst
_SHORT_LOOP = 2.0  # so little is played again that it is noticed at once
_SHORT_LOOP_BARS = 8
_AGAIN = 0.02  # a bar that is played again
_LEFT_OUT = 0.03  # a bar that is passed over
_FADE = 3.0
_LOUD_FADE = 3.0  # by energy
_FADE_OFF_PHRASE = 1.5
_LITTLE_FADE_BARS = 2  # the last bars of a track are its ring: a fade over them is hardly noticed
_LITTLE_FADE = 0.6
_TAIL = 5.0
_TAIL_BAR = 0.1
_LITTLE_TAIL_BARS = 1
_LITTLE_TAIL = 0.6
_LOST_QUIET = 3.0  # a bar of the opening with a beat, though the track could be quiet there
_EARLY_BEAT = 0.15  # a bar of the opening with a beat, beyond the quiet that the track has
_LONG_QUIET = 0.2  # a bar of the track's first quiet that comes after the opening

#: More places to leave the track at would take long; then sections and every other phrase do.
_MOST_PLACES = 240

#: The wished place of the peak's section, as shares of the time, and what else costs.
_PEAK_WISHED = (0.62, 0.78)
_PEAK_WITHIN = (0.57, 0.83)
_PEAK_NEAR = 20.0  # by share of the time beside the wished place
_PEAK_ASTRAY = 12.0  # outside of where the peak may be
_FAINT_PEAK = 0.15  # of these, where sections hardly differ
_SHORT_SUMMIT = 2.0  # a strongest section too short for a peak, by the share that it lacks
_SUMMIT_SECONDS = 40.0

#: Nobody goes straight to the last bars of a track: that would be an end from nowhere.
_LAST_BARS = 4

_NEVER = np.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """Bars of the track in the order in which they are played, then `tail` bars of a tail.

    `peak_at` is the place in the path at which the strongest section is met for the peak.
    """

    bars: tuple[int, ...]
    tail: int
    fades: bool
    peak_at: int
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """Lengths in bars: `opening` without a beat, of which the track can be quiet for `quiet`; a
    tail of at most `tail`."""

    opening: int
    quiet: int
    tail: int


class Paths:
    """The ways through one track of up to `longest` bars."""

    def __init__(self, track: TrackBars, wish: Wish, longest: int) -> None:
        self.track, self.wish, self.longest = track, wish, longest
        self.places = _places(track)
        self.jumps = _jumps(track, self.places)
        self.ends = _fade_costs(track)
        self._from_the_start()
        self._to_the_end()

    # ---- the two halves ------------------------------------------------------------------------

    def _from_the_start(self) -> None:
        """Work out the least cost of standing before track bar b after so many bars.

        `began[e, b]`: about to play b, any jump done. `came[e, i]`: place from which one came to
        place i (-1: none).
        """
        count = len(self.track)
        self.began = np.full((self.longest + 1, count + 1), _NEVER)
        self.came = np.full((self.longest + 1, len(self.places)), -1, dtype=np.int32)
        self.began[0, 0] = 0.0
        heard = np.array(self.track.heard, dtype=np.float64)
        first = _LONG_QUIET * (np.arange(count) < self.track.quiet_start)
        for e in range(1, self.longest + 1):
            wait = self._early(e - 1) * heard if e <= self.wish.opening else first
            self.began[e, 1:] = self.began[e - 1, :-1] + wait
            if len(self.places):
                ways = self.began[e, self.places][:, None] + self.jumps
                best = np.argmin(ways, axis=0)
                costs = ways[best, np.arange(len(self.places))]
                better = costs < self.began[e, self.places]
                self.came[e] = np.where(better, best, -1)
                targets = self.places[better]
                self.began[e, targets] = costs[better]

    def _early(self, e: int) -> float:
        """Return what a heard bar costs as bar `e` of the opening."""
        return _LOST_QUIET if e < self.wish.quiet else _EARLY_BEAT

    def _to_the_end(self) -> None:
        """Work out the least cost from track bar b to the end with so many bars left.

        `left[m, b]`: having arrived before b with m bars left; `went[m, i]`: place to go to from
        place i (-1: on).
        """
        count = len(self.track)
        self.left = np.full((self.longest + 1, count + 1), _NEVER)
        self.went = np.full((self.longest + 1, len(self.places)), -1, dtype=np.int32)
        self.left[0, :] = self.ends
        for m in range(1, self.longest + 1):
            plays = np.full(count + 1, _NEVER)
            plays[:-1] = self.left[m - 1, 1:]
            if m <= self.wish.tail:
                little = m <= _LITTLE_TAIL_BARS
                plays[count] = _LITTLE_TAIL if little else _TAIL + _TAIL_BAR * m
            self.left[m] = plays
            if len(self.places):
                ways = self.jumps + plays[self.places][None, :]
                best = np.argmin(ways, axis=1)
                costs = ways[np.arange(len(self.places)), best]
                better = costs < plays[self.places]
                self.went[m] = np.where(better, best, -1)
                self.left[m, self.places[better]] = costs[better]

    # ---- whole ways ----------------------------------------------------------------------------

    def best(self, length: int) -> Path:
        """Return the cheapest way of `length` bars, with the strongest section near its peak."""
        strong = np.array(sorted(self.track.strong), dtype=np.int64)
        shares = (np.arange(length) + 0.5) / length
        wish = _peak_costs(shares)[:, None] + _short_costs(self.track, strong)[None, :]
        wish = wish * (1.0 if self.track.stands_out else _FAINT_PEAK)
        plays = self.left[length - 1 :: -1, :][:length]  # by elapsed bars, after the next one
        whole = self.began[:length, strong] + plays[:, strong + 1] + wish
        at, which = np.unravel_index(int(np.argmin(whole)), whole.shape)
        if not np.isfinite(whole[at, which]):
            return self._without_peak(length)
        meeting = int(strong[which])
        before = self._back(int(at), meeting)
        after, tail, last = self._onward(length - int(at) - 1, meeting + 1)
        return Path(
            bars=(*before, meeting, *after),
            tail=tail,
            fades=tail == 0 and last < len(self.track),
            peak_at=int(at),
            cost=float(whole[at, which]),
        )

    def _without_peak(self, length: int) -> Path:
        """Return the cheapest way of `length` bars, wherever the strongest section comes."""
        after, tail, last = self._onward(length, 0)
        return Path(
            bars=tuple(after),
            tail=tail,
            fades=tail == 0 and last < len(self.track),
            peak_at=round(0.7 * length),
            cost=float(self.left[length, 0]),
        )

    def _back(self, elapsed: int, bar: int) -> list[int]:
        """Return the bars played before `bar` is begun after `elapsed` bars."""
        number = {int(place): i for i, place in enumerate(self.places)}
        found: list[int] = []
        while elapsed > 0:
            place = number.get(bar, -1)
            if place >= 0 and self.came[elapsed, place] >= 0:
                bar = int(self.places[self.came[elapsed, place]])
            bar -= 1
            elapsed -= 1
            found.append(bar)
        return found[::-1]

    def _onward(self, left: int, bar: int) -> tuple[list[int], int, int]:
        """Return the bars played from `bar` on, the bars of a tail, and where the track is left."""
        number = {int(place): i for i, place in enumerate(self.places)}
        found: list[int] = []
        while left > 0:
            place = number.get(bar, -1)
            if place >= 0 and self.went[left, place] >= 0:
                bar = int(self.places[self.went[left, place]])
            if bar >= len(self.track):
                return found, left, bar
            found.append(bar)
            bar += 1
            left -= 1
        return found, 0, bar


def _peak_costs(shares: Floats) -> Floats:
    low, high = _PEAK_WISHED
    beside = np.maximum(0.0, np.maximum(low - shares, shares - high))
    outside = (shares < _PEAK_WITHIN[0]) | (shares > _PEAK_WITHIN[1])
    return np.asarray(_PEAK_NEAR * beside + _PEAK_ASTRAY * outside)


def _short_costs(track: TrackBars, strong: Ints) -> Floats:
    """Return what it costs to have the peak in each of the strong bars, for short sections."""
    runs = np.split(strong, np.nonzero(np.diff(strong) != 1)[0] + 1)
    lasts = np.concatenate([np.full(len(run), len(run)) for run in runs]) * track.grid.bar_seconds
    return np.asarray(_SHORT_SUMMIT * np.maximum(0.0, 1 - lasts / _SUMMIT_SECONDS))


def _places(track: TrackBars) -> Ints:
    """Return the bars at which the track may be left or entered: phrases, and every bar of a long
    stretch without a beat, where nobody counts."""
    quiet = [
        bar
        for bar in range(1, len(track))
        if not track.heard[bar] and not track.heard[bar - 1] and bar not in track.tied
    ]
    for some in (
        {*track.phrases, *quiet},
        set(track.phrases),
        {bar for bar in track.phrases if bar % 8 == 0} | track.arrivals,
        set(track.arrivals),
    ):
        if len(some) <= _MOST_PLACES:
            break
    found = sorted({*some, len(track) - 1, len(track)} - {0})
    if not track.is_whole:  # its last bar ends in silence, which would be a hole in the middle
        found.remove(len(track))
    return np.array(found[: 4 * _MOST_PLACES], dtype=np.int64)


def _jumps(track: TrackBars, places: Ints) -> Floats:
    """Return what it costs to go from before place i to place j; never to where one is."""
    count = len(track)
    energy, section = np.array(track.energy), np.array(track.section)
    heard = np.array(track.heard)
    first = np.array([bar > 0 and section[bar] != section[bar - 1] for bar in range(count)])
    before = places - 1  # the bar that was played last
    into = np.minimum(places, count - 1)
    leaves_whole = np.array([bar == count or bool(first[bar]) for bar in places])
    enters_whole = first[into]
    other = section[before][:, None] != section[into][None, :]
    new = leaves_whole[:, None] & enters_whole[None, :]
    cost = np.full((len(places), len(places)), _SEAM)
    cost += np.where(other, np.where(new, _NEW_SECTION, _OTHER_SECTION), 0.0)
    step = np.abs(energy[before][:, None] - energy[into][None, :])
    cost += _ENERGY * np.where(new, step / 2, step)
    cost += np.where(~new & (heard[before][:, None] != heard[into][None, :]), _BEAT, 0.0)
    cost += _leaving(track, places)[:, None] + _entering(track, places)[None, :]
    back = places[:, None] - places[None, :]
    cost += np.where(back > 0, _AGAIN * back, -_LEFT_OUT * back)
    is_short = (back > 0) & (back < _SHORT_LOOP_BARS)
    cost += np.where(is_short & heard[before][:, None], _SHORT_LOOP, 0.0)
    cost[back == 0] = _NEVER
    cost[:, places > count - _LAST_BARS] = _NEVER
    return np.asarray(cost)


def _leaving(track: TrackBars, places: Ints) -> Floats:
    """Return what is cut off where the track is left before each place."""

    def cost(bar: int) -> float:
        last = bar - 1
        total = _TIED if bar < len(track) and bar in track.tied else 0.0
        if last in track.rising:
            goes_on = bar < len(track) and bar in track.rising
            total += _RISE if goes_on else _RISE_ASTRAY
        return total

    return np.array([cost(int(bar)) for bar in places])


def _entering(track: TrackBars, places: Ints) -> Floats:
    return np.array([_TIED if int(bar) in track.tied else 0.0 for bar in places])


def _fade_costs(track: TrackBars) -> Floats:
    """Return what it costs to end before each bar: nothing at the end, else a fade."""
    count = len(track)
    found = np.full(count + 1, _NEVER)
    found[count] = 0.0
    for bar in range(1, count):
        if count - bar <= _LITTLE_FADE_BARS:
            found[bar] = _LITTLE_FADE * (count - bar)
            continue
        found[bar] = _FADE + _LOUD_FADE * track.energy[bar - 1]
        found[bar] += 0.0 if bar in track.phrases else _FADE_OFF_PHRASE
        found[bar] += _RISE if bar - 1 in track.rising else 0.0
    return found


def seconds_of(track: TrackBars, path: Path) -> float:
    """Return how long `path` lasts."""
    starts = track.grid.bar_starts
    played = sum(starts[bar + 1] - starts[bar] for bar in path.bars)
    return played + path.tail * _tail_bar(starts)


def _tail_bar(starts: Sequence[float]) -> float:
    """Return the length of a bar of the tail: as the track's mean."""
    return (starts[-1] - starts[0]) / (len(starts) - 1)
