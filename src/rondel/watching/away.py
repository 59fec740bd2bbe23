"""When hands are out of the picture, told apart from hands that rest in it: what leaves flows out
over the picture's edges before nothing moves, and what comes back flows in over them after it.
Where outlines of hands are gone, weaker signs are enough."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from rondel.watching.moving import LAG_RATE, Floats, Moved, Moving, Seconds
from rondel.watching.outlines import lines_of, spans_without, surely_gone
from rondel.watching.spans import spans_of

Numbers = NDArray[np.float64]
Spans = tuple[tuple[float, float], ...]

#: Movement, of its usual amount above the least, below which nothing moves.
_STILL = 0.2
_STILL_SECONDS = 0.6
#: The same at the median, while the outlines of hands are gone.
_LITTLE_MOVES = 0.5
#: The same where hands that left are not to be mistaken for hands that go far back.
_HARDLY_MOVES = 0.12
#: Seconds after outlines begin to go in which most may flow out, and before they are back.
_WITHIN_SECONDS = 0.5
#: Seconds from where outlines begin to go to where hands begin to leave, at most.
_EDGE_SECONDS = 0.6
#: Seconds in which hands leave or come back, at most.
_LEAVE_SECONDS = 1.5
#: Of its highest amount, movement that a burst of it begins or ends with; where it rises again
#: after less than the second, hands do something else.
_LITTLE, _LESS = 0.25, 0.6
#: Of the way from little to the highest amount: there a burst begins or ends.
_BEGINS = 0.5
_BESIDE_SECONDS = 0.1  # that are left out as well
_EDGE_CELLS = 2
_AROUND_SECONDS = 12.0
_LEAST_USUAL = 0.1  # of what is usual in the whole take
#: Times what usually flows over the edges (as arms do): out and in, and their geometric mean. In
#: drawn tuning takes rests reach a mean of 1.7, hands that leave 3.5 and more.
_LEAST_FLOW, _LEAST_MEAN = 1.2, 2.4
_SOFT = 1.5  # pairs


@dataclass(frozen=True, slots=True, kw_only=True)
class _Flow:
    """What moves and what flows out over the edges of the picture, pair by pair, as shares of what
    is usual around; `cells` as they are."""

    at: Seconds
    share: Numbers
    out: Numbers
    cells: Floats

    def pairs(self, seconds: float) -> int:
        """Return how many pairs there are in `seconds`."""
        return int(seconds / float(np.median(np.diff(self.at))))


def away_spans(moved: Moved) -> Spans:
    """Return the spans, in seconds, from hands that begin to leave to hands that are back."""
    shortest = moved.lags[0]
    if len(shortest.at) < 4 / _STILL:
        return ()
    flow = _flow(shortest)
    still = spans_of(flow.share < _STILL, flow.at, _STILL_SECONDS)
    lines = lines_of(moved.outlines)
    gone: Spans = ()
    if lines is not None:
        may_be = _merged([_gone(flow, *span) for span in spans_without(lines)])
        gone = surely_gone(lines, may_be, tuple(_is_quiet(flow, *span) for span in may_be))
    left = (_left(flow, *span) for span in still)
    more = [span for span in left if span and not any(_meet(span, one) for one in gone)]
    return _merged([*gone, *more])


def _flow(moving: Moving) -> _Flow:
    cells = moving.cells
    amount = _soft(np.hypot(cells[..., 0], cells[..., 1]).sum(axis=(1, 2), dtype=np.float64))
    above = amount - np.percentile(amount, 3)
    out = _soft(_over_edges(cells))
    return _Flow(
        at=moving.at,
        share=above / _usual(above, moving.at, 70),
        out=out / _usual(np.abs(out), moving.at, 80),
        cells=cells,
    )


def _left(flow: _Flow, start: float, end: float) -> tuple[float, float] | None:
    """Return from when to when hands left around `start` to `end`, where what flows out before it
    and in after it says so."""
    first, last = (int(n) for n in np.searchsorted(flow.at, [start, end]))
    last = min(last, len(flow.at) - 1)
    reach = flow.pairs(_LEAVE_SECONDS)
    before, after = slice(max(0, first - reach), first + 1), slice(last, last + reach)
    leaves, left_at = _burst(flow.share[before][::-1], flow.out[before][::-1])
    comes, back_at = _burst(flow.share[after], -flow.out[after])
    flows_out = float(flow.out[first - leaves : first + 1].max())
    flows_in = float(-flow.out[last : last + comes + 1].min())
    went = flow.cells[first - leaves : first + 1]
    came = flow.cells[last : last + comes + 1]
    is_back = float(np.sum(went.sum(axis=0) * came.sum(axis=0))) < 0
    is_strong = flows_out * flows_in > _LEAST_MEAN**2
    if not is_back or not is_strong or min(flows_out, flows_in) <= _LEAST_FLOW:
        return None
    starts, ends = np.interp([first - left_at, last + back_at], np.arange(len(flow.at)), flow.at)
    return float(starts), float(ends)


def _gone(flow: _Flow, start: float, end: float) -> tuple[float, float] | None:
    """Return from when to when hands left around `start` to `end`, in which their outlines are
    gone: something flows out and in again, or little moves meanwhile."""
    inside = slice(*(int(n) for n in np.searchsorted(flow.at, [start, end])))
    within = min(_WITHIN_SECONDS, (end - start) / 3)
    left = [_left(flow, start + off, end - off) for off in (within, 0.0)]
    found = [span for span in left if span is not None]
    if found:
        firsts = [t for t, _ in found if t < start and _moves(flow, t, start)]
        lasts = [t for _, t in found if t > end and _moves(flow, end, t)]
        return (firsts or [start])[0], (lasts or [end])[0]
    share = flow.share[inside]
    is_still = len(share) > 0 and float(np.median(share)) < _LITTLE_MOVES
    if not is_still:
        return None
    begins, ends = float(flow.at[0]) + _EDGE_SECONDS, float(flow.at[-1]) - _EDGE_SECONDS
    return (
        _edge(flow, start, -1) if start > begins else start,
        _edge(flow, end, 1) if end < ends else end,
    )


def _is_quiet(flow: _Flow, start: float, end: float) -> bool:
    """True where hardly anything moves between `start` and `end`, but while hands leave or come."""
    leaving = min(_EDGE_SECONDS, (end - start) / 3)
    share = flow.share[(flow.at > start + leaving) & (flow.at < end - leaving)]
    return len(share) > 0 and float(np.median(share)) < _HARDLY_MOVES


def _moves(flow: _Flow, start: float, end: float) -> bool:
    """True where something moves from `start` to `end` all the time, but for the very ends."""
    spare = _BESIDE_SECONDS
    share = flow.share[(flow.at > start + spare) & (flow.at < end - spare)]
    return not len(share) or float(share.min()) > _STILL


def _meet(one: tuple[float, float], two: tuple[float, float]) -> bool:
    return one[0] < two[1] and two[0] < one[1]


def _edge(flow: _Flow, second: float, way: int) -> float:
    """Return when a burst of movement around `second` begins (`way` -1) or ends (1); `second` where
    there is none."""
    near, beyond = int(np.searchsorted(flow.at, second)), flow.pairs(_EDGE_SECONDS)
    steps = near + way * np.arange(-beyond, beyond + 1)
    steps = steps[(steps >= 0) & (steps < len(flow.at))]
    if not len(steps):
        return second
    _, length = _burst(flow.share[steps], flow.share[steps])
    if length >= len(steps) - 1:
        return second
    return float(np.interp(steps[0] + way * length, np.arange(len(flow.at)), flow.at))


def _merged(spans: list[tuple[float, float] | None]) -> Spans:
    """Return what `spans` there are in order; those that overlap are one."""
    found: list[tuple[float, float]] = []
    for start, end in sorted(span for span in spans if span is not None):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return tuple(found)


def _soft(row: Numbers) -> Numbers:
    return np.asarray(gaussian_filter1d(row, _SOFT, axis=0, mode="nearest"))


def _usual(row: Numbers, at: Seconds, percent: float) -> Numbers:
    """Return what is usual for `row` around every moment, and never far below what is in the whole
    take: each motion has its own."""
    middles = np.arange(float(at[0]), float(at[-1]) + 1.0)
    edges = np.searchsorted(at, [middles - _AROUND_SECONDS, middles + _AROUND_SECONDS])
    # Where pictures are missing for longer than that, the next one there is tells.
    spans = ((min(a, len(row) - 1), max(a + 1, b)) for a, b in edges.T.tolist())
    around = [np.percentile(row[a:b], percent) for a, b in spans]
    whole = float(np.percentile(row, percent))
    return np.maximum(np.interp(at, middles, around), max(_LEAST_USUAL * whole, 1e-9))


def _over_edges(cells: Floats) -> Numbers:
    """Return what flows out over all four edges of the picture, pair by pair."""
    across, down, wide = cells[..., 0], cells[..., 1], _EDGE_CELLS
    sides = (-across[:, :, :wide], across[:, :, -wide:], -down[:, :wide], down[:, -wide:])
    return np.asarray(sum(side.sum(axis=(1, 2), dtype=np.float64) for side in sides))


def _burst(share: Numbers, flow: Numbers) -> tuple[int, float]:
    """Return how many pairs from where nothing moves (`share` begins there) a burst lasts in which
    most flows over the edges: until little moves, or until more does again; and how many until it
    ends or begins, with what is softened taken into account."""
    if not len(share):
        return 0, 0.0
    top = int(np.argmax(flow))
    after = share[top:]
    rises = np.append(np.diff(after) > 0, True)
    ends = np.flatnonzero((after < _LITTLE * share[top]) | (rises & (after < _LESS * share[top])))
    last = top + int(ends[0] if len(ends) else np.argmin(after))
    level = share[last] + _BEGINS * (float(share[top : last + 1].max()) - share[last])
    over = top + int(np.flatnonzero(share[top : last + 1] >= level)[-1]) if last > top else last
    if over == last:
        return last, float(last)
    step = (share[over] - level) / max(share[over] - share[over + 1], 1e-9)
    return last, over + float(step)


def without(moved: Moved, spans: Spans) -> Moved:
    """Return what moves with nothing in `spans`, nor in pairs of pictures that reach into
    them or nearly do."""
    if not spans:
        return moved
    return replace(moved, lags=tuple(_still_in(moving, spans) for moving in moved.lags))


def _still_in(moving: Moving, spans: Spans) -> Moving:
    half = moving.lag / LAG_RATE / 2 + _BESIDE_SECONDS
    cells = moving.cells.copy()
    for start, end in spans:
        cells[(moving.at > start - half) & (moving.at < end + half)] = 0.0
    return replace(moving, cells=cells)
