"""Bars as the cells of form: lines through the whole of a track, and what sounds between them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rondel.listening.features import FRAMES, SLOW, Features, Floats, loudness_of

Times = NDArray[np.float64]

BAR_WITHOUT_BEATS = 3.0  # seconds; where nothing is counted, about a slow bar
SLOW_STEP = FRAMES // SLOW
AT_ONCE = 600 * SLOW  # rows of a tenth of a second handled together, so that hours stay small


def bar_lines(downbeats: Sequence[float], seconds: float) -> Times:
    """Return the seconds of bar lines from 0 to `seconds`, both included, rising.

    Downbeats are kept; where they leave a hole, the hole is cut into equal parts about as long
    as a bar. A bar shorter than half of the usual one is joined to its neighbour at either end.
    """
    inside = [at for at in downbeats if 0 < at < seconds]
    bar = float(np.median(np.diff(downbeats))) if len(downbeats) > 2 else BAR_WITHOUT_BEATS
    while inside and inside[0] < bar / 2:
        inside = inside[1:]
    while inside and seconds - inside[-1] < bar / 2:
        inside = inside[:-1]
    lines = [0.0]
    for at in [*inside, seconds]:
        parts = max(1, round((at - lines[-1]) / bar))
        lines.extend(np.linspace(lines[-1], at, parts + 1)[1:].tolist())
    return np.array(lines)


def by_bar(rows: Floats, per_second: int, lines: Times) -> Floats:
    """Return the mean of `rows` (any, columns) in every bar: (bars, columns)."""
    edges = np.clip(np.rint(lines * per_second).astype(np.int64), 0, len(rows))
    sums = np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(rows, axis=0, dtype=np.float64)])
    counts = np.maximum(np.diff(edges), 1)[:, None]
    return np.asarray((sums[edges[1:]] - sums[edges[:-1]]) / counts, dtype=np.float32)


def slow_loudness(features: Features, share: float | None = None) -> Floats:
    """Return loudness by band a tenth of a second, (rows, bands): the mean, or a low share.

    With `share`, a percentile: what lies under the attacks. Equal for a quieter copy.
    """
    count = len(features.bands) // SLOW_STEP
    rows = []
    for start in range(0, count, AT_ONCE):
        past = min(count, start + AT_ONCE)
        bands = features.bands[start * SLOW_STEP : past * SLOW_STEP]
        loud = loudness_of(bands, features.level).reshape(past - start, SLOW_STEP, -1)
        low = loud.mean(axis=1) if share is None else np.percentile(loud, share, axis=1)
        rows.append(low.astype(np.float32))
    return np.concatenate([np.zeros((0, features.bands.shape[1]), dtype=np.float32), *rows])


def slow_pitches(features: Features) -> Floats:
    """Return loudness by semitone a tenth of a second, on the scale of `slow_loudness`."""
    magnitudes = features.pitches.astype(np.float32) ** 2
    return np.asarray(np.log1p(magnitudes * (100.0 / features.level)), dtype=np.float32)
