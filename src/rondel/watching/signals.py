"""How hands move, as a few numbers at every moment: together, apart, and how sure that is.

*Together* is the mean movement across and down; *apart* are its first moments about where things
move, so that hands that go opposite ways show there. Every signal is on one even grid of seconds.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from rondel.watching.away import Spans, away_spans, without
from rondel.watching.moving import Moved, Moving, Seconds

Numbers = NDArray[np.float64]

#: Samples a second of every signal; between them times are interpolated.
RATE = 50
_CENTRE_SECONDS = 6.0  # over which the middle of what moves is taken
_CLEAR = 12.0  # times its noise: a lag is then clear enough to do without a longer one
#: Times what is usual for a cell: what passes through the picture counts no more than this.
_CLIP = 2.0
_QUICK_COUNTS = 1.5
_HIGH = 80  # percent of moments, that is usual
_BLOCK = 400  # pairs over which that is taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Signals:
    """What moves, in pixels (of a picture 320 wide) a second times cells.

    `at` (n,): seconds, even. `together` (lags, n, 2): across, down. `apart` (lags, n, 4): the
    moments across × across, across × down, down × across, down × down. `speed` (lags, n): how fast
    the part of the picture that moves does, in pixels a second. `away`: spans in which hands are
    out of the picture; nothing moves in them.
    """

    at: Seconds
    together: Numbers
    apart: Numbers
    speed: Numbers
    away: Spans = ()

    def between(self, start: float, end: float) -> slice:
        """Return the samples from `start` to `end`."""
        first, last = np.searchsorted(self.at, [start, end])
        return slice(int(first), int(last))


def signals_of(moved: Moved) -> Signals:
    """Return the signals of a whole take."""
    end = float(moved.frames[-1])
    start = float(moved.frames[0])
    at = start + np.arange(max(2, int((end - start) * RATE))) / RATE
    away = away_spans(moved)
    moved = without(moved, away)
    together, apart, speed = [], [], []
    for moving in moved.lags:
        one, two = _moments(moving)
        speed.append(_even(at, moving.at, _speed(moving))[:, 0])
        together.append(_even(at, moving.at, one))
        apart.append(_even(at, moving.at, two))
    return Signals(
        at=at,
        together=np.array(together),
        apart=np.array(apart),
        speed=np.array(speed),
        away=away,
    )


def _even(at: Seconds, seen: Seconds, rows: Numbers) -> Numbers:
    if not len(seen):
        return np.zeros((len(at), rows.shape[1]))
    return np.stack([np.interp(at, seen, column) for column in rows.T], axis=1)


def _moments(moving: Moving) -> tuple[Numbers, Numbers]:
    """Return (pairs, 2) and (pairs, 4) of one lag."""
    cells = moving.cells.astype(np.float64)
    if not len(cells):
        return np.zeros((0, 2)), np.zeros((0, 4))
    cells = _clipped(cells)
    y, x = np.mgrid[0 : cells.shape[1], 0 : cells.shape[2]].astype(np.float64)
    size = np.hypot(cells[..., 0], cells[..., 1])
    steps = np.diff(moving.at)
    window = max(3, int(_CENTRE_SECONDS / float(np.median(steps)))) if len(steps) else 3
    size = uniform_filter1d(size, window, axis=0, mode="nearest")
    size = np.maximum(size - np.median(size, axis=(1, 2), keepdims=True), 0) ** 2 + 1e-9
    total = size.sum(axis=(1, 2))
    middle_x = ((size * x).sum(axis=(1, 2)) / total)[:, None, None]
    middle_y = ((size * y).sum(axis=(1, 2)) / total)[:, None, None]
    u, v = cells[..., 0], cells[..., 1]
    from_x, from_y = (x - middle_x) / 3, (y - middle_y) / 3
    together = np.stack([u.sum(axis=(1, 2)), v.sum(axis=(1, 2))], axis=1)
    apart = np.stack(
        [
            (from_x * u).sum(axis=(1, 2)),
            (from_x * v).sum(axis=(1, 2)),
            (from_y * u).sum(axis=(1, 2)),
            (from_y * v).sum(axis=(1, 2)),
        ],
        axis=1,
    )
    return together, apart


def _speed(moving: Moving) -> Numbers:
    """Return (pairs, 1): the mean speed of cells, each counting by its own speed."""
    size = np.hypot(moving.cells[..., 0], moving.cells[..., 1]).astype(np.float64)
    fast = (size**2).sum(axis=(1, 2)) / np.maximum(size.sum(axis=(1, 2)), 1e-9)
    return np.asarray(fast[:, None])


def _clipped(cells: Numbers) -> Numbers:
    """Hold back cells that move far more than they usually do: something passes through, or the
    camera was switched."""
    size = np.hypot(cells[..., 0], cells[..., 1])
    usual = _usual(size)
    limit = _CLIP * usual + float(np.mean(usual))
    scale = np.minimum(1.0, limit / np.maximum(size, 1e-9))
    top = np.maximum(usual.max(axis=(1, 2), keepdims=True), 1e-9)
    return np.asarray(cells * (scale * (usual / top) ** _QUICK_COUNTS)[..., None])


def _usual(size: Numbers) -> Numbers:
    """Return what is usual for each cell around each moment: a high share of some blocks."""
    count = max(1, round(len(size) / _BLOCK))
    edges = np.linspace(0, len(size), count + 1).astype(int)
    highs = np.stack([np.percentile(size[a:b], _HIGH, axis=0) for a, b in pairwise(edges.tolist())])
    middles = (edges[:-1] + edges[1:]) / 2
    place = np.interp(np.arange(len(size)), middles, np.arange(count))
    low = place.astype(int)
    share = (place - low)[:, None, None]
    return np.asarray(highs[low] * (1 - share) + highs[np.minimum(low + 1, count - 1)] * share)


def smoothed(signal: Numbers, seconds: float) -> Numbers:
    """Return `signal` (n, ...) freed of what lasts less than about `seconds`."""
    return np.asarray(gaussian_filter1d(signal, max(0.5, seconds * RATE), axis=0, mode="nearest"))


def followed(rows: Numbers) -> Numbers:
    """Return one signal (n, ways) of `rows` (lags, n, ways): at every moment from the shortest lag
    that stands clear of its noise, for a longer one blurs quick movement.

    Between lags it goes over softly.
    """
    found = rows[-1]
    for index in range(len(rows) - 2, -1, -1):
        rough = rows[index] - gaussian_filter1d(rows[index], 2.0, axis=0, mode="nearest")
        noise = 1.4826 * float(np.median(np.abs(rough))) + 1e-9
        size = np.sqrt((rows[index] ** 2).sum(axis=1))
        clear = uniform_filter1d(size, int(0.5 * RATE), mode="nearest") / noise
        share = np.clip((clear - _CLEAR) / _CLEAR, 0.0, 1.0)[:, None]
        share = gaussian_filter1d(share, 0.2 * RATE, axis=0, mode="nearest")
        found = share * rows[index] + (1 - share) * found
    return np.asarray(found)
