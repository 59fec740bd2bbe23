"""Where something swells and is gone at its top: the evidence of a rise, a tenth of a second."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import percentile_filter

from rondel.listening.cells import AT_ONCE, Times, slow_loudness, slow_pitches
from rondel.listening.features import SLOW, Features, Floats

Rows = NDArray[np.int64]

UNDER = 25.0  # percentile within 0.6 s: what is held, under attacks
UNDER_ROWS = 6
LENGTHS = (50, 80)  # rows over which a swell is measured: 5 and 8 s
GAP = 3  # rows on either side of the top that are left out, for its last fade and first echo
BEFORE, EARLIER, AFTER = 5, 15, 8  # rows before the top, from where growth must go on, and after
EBB = 12  # rows from just after the top to when its fall is looked at again, as long as the first
STILL_GROWING = 0.05  # a swell's last half second is as loud as the second before it, less this
MOST = 2.0  # more growth than this in one band says no more

#: Weights fitted by logistic regression on the tuning seeds of benchmarks/tracks/split.json.
BY_BAND, BY_PITCH, START_FROM = 15.4, 18.1, -6.3


def swell_evidence(features: Features) -> Floats:
    """Return, a tenth of a second, how much speaks for a swell that tops there (about −6 to 12).

    0 is even odds at a bar line. A swell grows along a line for several seconds, is still growing
    just before its top and drops at once after it, in many bands (noise, chords) or many semitones
    (chords, tones). Steps, single notes and waves that ebb do not do all three.
    """
    by_band = _grown(slow_loudness(features, 30.0))
    by_pitch = _grown(slow_pitches(features))
    count = min(len(by_band), len(by_pitch))
    return BY_BAND * by_band[:count] + BY_PITCH * by_pitch[:count] + np.float32(START_FROM)


def _grown(rows: Floats) -> Floats:
    """Return the mean over columns of how far each grew and then dropped, (rows,)."""
    if not len(rows):
        return np.zeros(0, dtype=np.float32)
    held = percentile_filter(rows, UNDER, size=(UNDER_ROWS, 1), mode="nearest")
    margin = max(LENGTHS) + GAP + EARLIER + EBB + AFTER
    parts = []
    for start in range(0, len(held), AT_ONCE):
        first = max(0, start - margin)
        part = held[first : start + AT_ONCE + margin]
        scores = np.mean([_one_length(part, length) for length in LENGTHS], axis=0)
        if first == 0:
            scores[: max(LENGTHS)] = 0.0
        parts.append(scores[start - first : start - first + AT_ONCE])
    return np.concatenate(parts).astype(np.float32)


def _one_length(held: Floats, length: int) -> Floats:
    """Return, for swells of `length` rows: growth, as far as a line explains it, and drop."""
    run = _Runs(held)
    spread, slope = run.line(-GAP - length, -GAP)
    before, after = run.mean(-GAP - BEFORE, -GAP), run.mean(GAP, GAP + AFTER)
    earlier = run.mean(-GAP - EARLIER, -GAP - BEFORE)
    grows = slope * np.sqrt(length**2 / 12)  # in units of the spread over time
    along = np.clip(grows / np.sqrt(np.maximum(spread, 1e-6)), 0, 1) ** 4  # correlation, ⁴
    rise = np.clip(slope * length, 0, MOST) * along * (before >= earlier - STILL_GROWING)
    # What goes on falling after the top as fast as it fell at the top is a wave that ebbs.
    later = run.mean(GAP + EBB, GAP + EBB + AFTER)
    drop = np.clip(before - after - np.maximum(after - later, 0), 0, MOST)
    return np.asarray(np.sqrt(rise * drop).mean(axis=1))


class _Runs:
    """Means and lines over runs of rows, each placed against every row, by running sums."""

    def __init__(self, rows: Floats) -> None:
        self._count = len(rows)
        exact = rows.astype(np.float64)
        at = np.arange(self._count)[:, None]
        self._sums, self._squares, self._moments = (
            np.concatenate([np.zeros((1, rows.shape[1])), np.cumsum(values, axis=0)])
            for values in (exact, exact**2, at * exact)
        )

    def mean(self, first: int, past: int) -> Times:
        """Return the mean of rows i + first to i + past (excluded) for every row i."""
        a, b, counts = self._edges(first, past)
        return np.asarray((self._sums[b] - self._sums[a]) / counts)

    def line(self, first: int, past: int) -> tuple[Times, Times]:
        """Return variance, and slope a row of the line of least squares, of those rows."""
        a, b, counts = self._edges(first, past)
        total = self._sums[b] - self._sums[a]
        middle = ((a + b - 1) / 2)[:, None]
        moment = self._moments[b] - self._moments[a] - middle * total
        slope = moment / np.maximum(counts * (counts**2 - 1) / 12, 1)
        variance = (self._squares[b] - self._squares[a]) / counts - (total / counts) ** 2
        return variance, slope

    def _edges(self, first: int, past: int) -> tuple[Rows, Rows, Times]:
        at = np.arange(self._count)
        a = np.clip(at + first, 0, self._count)
        b = np.clip(at + past, 0, self._count)
        return a, b, np.maximum(b - a, 1)[:, None].astype(np.float64)


def strongest_near(evidence: Floats, at: float, within: float) -> tuple[float, float]:
    """Return (evidence, seconds) of the strongest swell within so many seconds of `at`."""
    first = max(0, round((at - within) * SLOW))
    near = evidence[first : round((at + within) * SLOW) + 1]
    if not len(near):
        return START_FROM, at
    best = int(near.argmax())
    return float(near[best]), (first + best) / SLOW
