"""When hands are out of the picture, told apart from hands that rest in it: what leaves flows out
over the picture's edges before nothing moves, and what comes back flows in over them after it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from rondel.watching.moving import LAG_RATE, Floats, Moved, Moving, Seconds
from rondel.watching.spans import spans_of

Numbers = NDArray[np.float64]
Spans = tuple[tuple[float, float], ...]

#: Movement, of its usual amount above the least, below which nothing moves.
_STILL = 0.2
_STILL_SECONDS = 0.6
#: Seconds in which hands leave or come back, at most.
_LEAVE_SECONDS = 1.5
#: Of its highest amount, movement that a burst of it begins or ends with; where it rises again
#: after less than the second, hands do something else.
_LITTLE, _LESS = 0.25, 0.6
_EDGE_CELLS = 2
_AROUND_SECONDS = 12.0
_LEAST_USUAL = 0.1  # of what is usual in the whole take
#: Times what usually flows over the edges (as arms do): out and in, and their geometric mean. In
#: drawn tuning takes rests reach a mean of 1.7, hands that leave 3.5 and more.
_LEAST_FLOW, _LEAST_MEAN = 1.2, 2.4
_SOFT = 1.5  # pairs


def away_spans(moved: Moved) -> Spans:
    """Return the spans, in seconds, from hands that begin to leave to hands that are back."""
    shortest = moved.lags[0]
    if len(shortest.at) < 4 / _STILL:
        return ()
    cells = shortest.cells
    amount = _soft(np.hypot(cells[..., 0], cells[..., 1]).sum(axis=(1, 2), dtype=np.float64))
    above = amount - np.percentile(amount, 3)
    share = above / _usual(above, shortest.at, 70)
    out = _soft(_over_edges(cells))
    out = out / _usual(np.abs(out), shortest.at, 80)
    found: list[tuple[float, float]] = []
    for start, end in spans_of(share < _STILL, shortest.at, _STILL_SECONDS):
        first, last = (int(n) for n in np.searchsorted(shortest.at, [start, end]))
        reach = int(_LEAVE_SECONDS / float(np.median(np.diff(shortest.at))))
        before, after = slice(max(0, first - reach), first + 1), slice(last, last + reach)
        leaves = _burst(share[before][::-1], out[before][::-1])
        comes = _burst(share[after], -out[after])
        flows_out = float(out[first - leaves : first + 1].max())
        flows_in = float(-out[last : last + comes + 1].min())
        went, came = cells[first - leaves : first + 1], cells[last : last + comes + 1]
        is_back = float(np.sum(went.sum(axis=0) * came.sum(axis=0))) < 0
        is_strong = flows_out * flows_in > _LEAST_MEAN**2
        if is_back and is_strong and min(flows_out, flows_in) > _LEAST_FLOW:
            found.append((float(shortest.at[first - leaves]), float(shortest.at[last + comes])))
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


def _burst(share: Numbers, flow: Numbers) -> int:
    """Return how many pairs from where nothing moves (`share` begins there) a burst lasts in which
    most flows over the edges: until little moves, or until more does again."""
    if not len(share):
        return 0
    top = int(np.argmax(flow))
    after = share[top:]
    rises = np.append(np.diff(after) > 0, True)
    ends = np.flatnonzero((after < _LITTLE * share[top]) | (rises & (after < _LESS * share[top])))
    return top + int(ends[0] if len(ends) else np.argmin(after))


def without(moved: Moved, spans: Spans) -> Moved:
    """Return what moves with nothing in `spans`, nor in pairs of pictures that reach into them."""
    if not spans:
        return moved
    return replace(moved, lags=tuple(_still_in(moving, spans) for moving in moved.lags))


def _still_in(moving: Moving, spans: Spans) -> Moving:
    half = moving.lag / LAG_RATE / 2
    cells = moving.cells.copy()
    for start, end in spans:
        cells[(moving.at > start - half) & (moving.at < end + half)] = 0.0
    return replace(moving, cells=cells)
