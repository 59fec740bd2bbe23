"""How fast film is played at every moment, so that each stroke lands on its beat without a jerk."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import lsq_linear
from scipy.sparse import coo_array, csr_array, diags_array, vstack

from rondel.model.shots import TimeMap

Numbers = NDArray[np.float64]

STEP = 0.04  # seconds: a frame of 25 a second
#: What it costs (squared) that film is off its own speed, that speed changes by its own size in a
#: second, and that a stroke lands a second late.
_OFF_COSTS, _CHANGE_COSTS, _LATE_COSTS = 1.0, 0.35, 3000.0


def time_map(
    beats: Sequence[float], strokes: Sequence[float], *, slowest: float, fastest: float
) -> TimeMap:
    """Return the gentlest way to play one shot so that `strokes` land on `beats`.

    Both in seconds, of the take and of the session, as many. A bounded least-squares problem in the
    speed at every frame; speeds stay within `slowest` and `fastest`.
    """
    start, end = float(beats[0]), float(beats[-1])
    count = max(2, round((end - start) / STEP))
    at = np.linspace(start, end, count + 1)
    step = (end - start) / count
    reached = _reached(np.asarray(beats) - start, count, step)
    wanted = np.asarray(strokes, dtype=np.float64) - strokes[0]
    rows = vstack(
        [
            np.sqrt(_OFF_COSTS * step) * diags_array(np.ones(count)),
            np.sqrt(_CHANGE_COSTS / step) * _differences(count),
            np.sqrt(_LATE_COSTS) * reached,
        ]
    ).tocsr()
    goals = np.concatenate(
        [
            np.full(count, np.sqrt(_OFF_COSTS * step)),
            np.zeros(count - 1),
            np.sqrt(_LATE_COSTS) * wanted,
        ]
    )
    found = lsq_linear(rows, goals, bounds=(slowest, fastest), method="trf", lsq_solver="lsmr")
    shows = strokes[0] + np.concatenate([[0.0], np.cumsum(found.x) * step])
    return TimeMap(at=tuple(at.tolist()), shows=tuple(shows.tolist()))


def _reached(beats: Numbers, count: int, step: float) -> csr_array:
    """Return (beats, count): how much of the film has been shown by each beat, by the speeds."""
    shares = np.clip(beats[:, None] / step - np.arange(count)[None, :], 0.0, 1.0) * step
    return csr_array(shares)


def _differences(count: int) -> coo_array:
    ones = np.ones(count - 1)
    return diags_array([-ones, ones], offsets=[0, 1], shape=(count - 1, count)).tocoo()
