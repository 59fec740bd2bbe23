"""Where something swells and is gone at its top: the evidence of a rise, a tenth of a second."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import percentile_filter

from rondel.listening.bars import AT_ONCE, slow_loudness, slow_pitches
from rondel.listening.features import SLOW, Features, Floats

UNDER = 25.0  # percentile within 0.6 s: what is held, under attacks
UNDER_ROWS = 6
LENGTHS = (56, 80)  # rows over which a swell is measured: 5.6 and 8 s
GAP = 3  # rows on either side of the top that are left out, for its last fade and first echo
BEFORE, AFTER = 5, 8  # rows just before and just after the top
STILL_GROWING = 0.02  # a swell's last half second is as loud as what came before it, less this
MOST = 2.0  # more growth than this in one band says no more

#: Weights fitted by logistic regression on the tuning seeds of benchmarks/tracks/split.json.
BY_BAND, BY_PITCH, START_FROM = 10.8, 8.4, -4.2


def swell_evidence(features: Features) -> Floats:
    """Return, a tenth of a second, how much speaks for a swell that tops there (about −4 to 10).

    0 is even odds where a section begins. A swell grows in each third of several seconds, is
    still growing just before its top and drops at once after it, in many bands (noise, chords) or
    many semitones (chords, tones). Steps, single notes and waves that ebb do none of the three.
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
    margin = max(LENGTHS) + GAP + BEFORE + AFTER
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
    sums = np.concatenate([np.zeros((1, held.shape[1])), np.cumsum(held, axis=0, dtype=np.float64)])
    rows = np.arange(len(held))

    def mean(first: int, past: int) -> Floats:
        a = np.clip(rows + first, 0, len(held))
        b = np.clip(rows + past, 0, len(held))
        means = (sums[b] - sums[a]) / np.maximum(b - a, 1)[:, None]
        return np.asarray(means, dtype=np.float32)

    quarter = length // 4
    times = [mean(-GAP - (4 - k) * quarter, -GAP - (3 - k) * quarter) for k in range(4)]
    growth = np.diff(np.stack(times), axis=0)
    before, after = mean(-GAP - BEFORE, -GAP), mean(GAP, GAP + AFTER)
    # The middle one of three growths: one step up, however high, is no swell.
    rise = np.clip(3 * np.median(growth, axis=0), 0, MOST)
    rise = rise * (before >= times[3] - STILL_GROWING)
    drop = np.clip(before - after, 0, MOST)
    return np.asarray(np.sqrt(rise * drop).mean(axis=1))


def strongest_near(evidence: Floats, at: float, within: float) -> tuple[float, float]:
    """Return (evidence, seconds) of the strongest swell within so many seconds of `at`."""
    first = max(0, round((at - within) * SLOW))
    near = evidence[first : round((at + within) * SLOW) + 1]
    if not len(near):
        return START_FROM, at
    best = int(near.argmax())
    return float(near[best]), (first + best) / SLOW
