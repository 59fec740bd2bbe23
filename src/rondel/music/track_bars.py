"""What a track is in each of its bars: heard or quiet, its energy, section, phrases and returns."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from rondel.model.track import Heard, Span
from rondel.music.track_grid import TrackGrid

#: A phrase is so many bars from the start of its section on, until the next.
PHRASE_BARS = 4

#: A bar counts as heard where at most this share of it is quiet or not sure.
_QUIET_SHARE = 0.1

#: Sections whose energy is so near to the strongest are as strong. All that were so near were truly
#: strongest on 44 of the 60 made-up tracks that energies were trained on, with 0.05 on 33; on 20
#: that nothing was chosen on, on 14 and 12 (decision 11).
_AS_STRONG = 0.02

#: The strongest section stands out where it is so far above the mean of the others (of 0 to 1).
_STANDS_OUT = 0.25

#: Where nothing is told of sections, every bar has this energy.
_MIDDLING = 0.5


@dataclass(frozen=True, kw_only=True)
class TrackBars:
    """A track's bars, counted from 0 in the track. `section` numbers the sections; `rising` bars
    belong to a rise that arrives later; `tied` ones go on with a motif begun before them."""

    grid: TrackGrid
    heard: tuple[bool, ...]
    energy: tuple[float, ...]
    section: tuple[int, ...]
    phrases: frozenset[int]
    arrivals: frozenset[int]
    homes: frozenset[int]
    rising: frozenset[int]
    tied: frozenset[int]
    strong: frozenset[int]
    stands_out: bool
    is_whole: bool  # the last bar is filled by the track

    def __len__(self) -> int:
        return len(self.heard)

    @property
    def quiet_start(self) -> int:
        """How many bars from the first on are without a beat."""
        return next((bar for bar, is_heard in enumerate(self.heard) if is_heard), len(self))


def bars_of(heard: Heard, grid: TrackGrid) -> TrackBars:
    """Return what `heard` says of every bar of `grid`."""
    starts, count = grid.bar_starts, grid.bars
    spans = [Span(start=max(a, 0.0), end=b) for a, b in pairwise(starts)]
    sections = _section_bars(heard, grid)
    quiet = (*heard.beatless, *heard.unsure, *_beyond(heard, starts[-1]))
    energies = [s.energy for s in heard.sections] or [_MIDDLING]
    section = [bisect_right(sections, bar) - 1 for bar in range(count)]
    returns = [(_nearest(grid, r.start), _nearest(grid, r.end)) for r in heard.returns]
    rises = [(_nearest(grid, r.start), _nearest(grid, r.end)) for r in heard.rises]
    strong = _strong(section, energies)
    return TrackBars(
        grid=grid,
        heard=tuple(grid.is_heard and _share(span, quiet) <= _QUIET_SHARE for span in spans),
        energy=tuple(energies[min(number, len(energies) - 1)] for number in section),
        section=tuple(section),
        phrases=frozenset(_phrases(sections, count)),
        arrivals=frozenset({top for _, top in rises if 0 < top < count} | set(sections[1:])),
        homes=frozenset(first for first, _ in returns if first < count),
        rising=frozenset(bar for first, top in rises for bar in range(first, min(top, count))),
        tied=frozenset(
            bar for first, past in returns for bar in range(first + 1, min(past, count))
        ),
        strong=strong,
        stands_out=_do_differ(section, energies, strong),
        is_whole=starts[-1] <= heard.seconds + 1e-6,
    )


def _section_bars(heard: Heard, grid: TrackGrid) -> list[int]:
    """Return the first bar of every section; sections of less than half a bar are passed over."""
    found = [0]
    for section in heard.sections[1:]:
        bar = _nearest(grid, section.span.start)
        # The number of a section is its place in `heard`, so none may be left out.
        found.append(max(bar, found[-1]))
    return found


def _beyond(heard: Heard, end: float) -> Iterable[Span]:
    """Yield what lies before the first beat that was heard and after the last, up to `end`: there
    beats are only implied."""
    if len(heard.beats) < 2:
        return
    first, last = heard.beats[0], heard.beats[-1]
    beat = (last - first) / (len(heard.beats) - 1)
    if first > beat:
        yield Span(start=0, end=first)
    if end > last + beat * 1.5:
        yield Span(start=last + beat, end=end)


def _nearest(grid: TrackGrid, second: float) -> int:
    """Return the bar that begins nearest to `second` (the number of bars for the end)."""
    starts = grid.bar_starts
    after = min(max(bisect_right(starts, second), 1), len(starts) - 1)
    is_later = starts[after] - second < second - starts[after - 1]
    return after if is_later else after - 1


def _share(span: Span, quiet: Iterable[Span]) -> float:
    """Return how much of `span` lies in `quiet` spans; where these overlap, it is counted once."""
    over = sorted((max(span.start, q.start), min(span.end, q.end)) for q in quiet)
    total, until = 0.0, span.start
    for start, end in over:
        total += max(0.0, end - max(start, until))
        until = max(until, end)
    return total / span.seconds


def _phrases(sections: list[int], count: int) -> Iterable[int]:
    """Yield the bars on which a phrase begins; a last one of one bar belongs to the one before."""
    for first, past in zip(sections, [*sections[1:], count], strict=True):
        for bar in range(first, past, PHRASE_BARS):
            if bar == first or past - bar > 1:
                yield bar


def _strong(section: list[int], energies: list[float]) -> frozenset[int]:
    """Return the bars of the strongest sections."""
    there = {energies[min(number, len(energies) - 1)] for number in section}
    least = max(there) - _AS_STRONG
    return frozenset(
        bar
        for bar, number in enumerate(section)
        if energies[min(number, len(energies) - 1)] >= least
    )


def _do_differ(section: list[int], energies: list[float], strong: frozenset[int]) -> bool:
    """True where the strongest sections are clearly stronger than the mean of all others."""
    others = [energies[number] for bar, number in enumerate(section) if bar not in strong]
    if not others:
        return False
    return max(energies[section[bar]] for bar in strong) - sum(others) / len(others) >= _STANDS_OUT
