"""What sings in a track, half a beat at a time, with what merely accompanies it taken away."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import median_filter

from rondel.listening.cells import Times, bar_lines, slow_pitches
from rondel.listening.features import SLOW, Features, Floats

A_BEAT = 2  # cells
WITHIN = 4  # instants within a cell at which the pitches are read
BARS_AROUND = 4  # on either side, with which a bar is compared
SHARE = 1.5  # of what those bars have at the same place is taken away


def half_beats(beats: Sequence[float], seconds: float) -> Times:
    """Return the seconds of half beats from 0 to `seconds`; holes between beats are filled."""
    lines = bar_lines(beats, seconds)
    places = np.arange(A_BEAT * (len(lines) - 1) + 1) / A_BEAT
    return np.asarray(np.interp(places, np.arange(len(lines)), lines))


def melody(features: Features, edges: Times, beats_per_bar: int) -> Floats:
    """Return (cells, semitones): how far each sounds above its accompaniment, 0 and more.

    Taken away are, first, tones held for most of two bars (pads, drones), then what sounds at the
    same place of the neighbouring bars as well (figures, bass, drums).
    """
    bar = beats_per_bar * A_BEAT
    loud = _read(slow_pitches(features), edges)
    held = median_filter(loud, size=(2 * bar + 1, 1), mode="nearest")
    above = np.maximum(loud - held, 0)
    return np.asarray(np.maximum(above - SHARE * _around(above, bar), 0), dtype=np.float32)


def _read(rows: Floats, edges: Times) -> Floats:
    """Return the mean of `rows`, SLOW a second, in every cell, read between rows."""
    if len(rows) < 2:
        return np.zeros((len(edges) - 1, rows.shape[1]), dtype=np.float32)
    total = np.zeros((len(edges) - 1, rows.shape[1]), dtype=np.float32)
    for part in range(WITHIN):
        at = (edges[:-1] + (part + 0.5) / WITHIN * np.diff(edges)) * SLOW
        at = np.clip(at, 0, len(rows) - 1.001)
        row = at.astype(np.int64)
        later = (at - row)[:, None].astype(np.float32)
        total += rows[row] * (1 - later) + rows[row + 1] * later
    return np.asarray(total / WITHIN, dtype=np.float32)


def _around(cells: Floats, bar: int) -> Floats:
    """Return the mean of the cells at the same place of the bars around, itself left out."""
    total = np.zeros_like(cells)
    counts = np.zeros((len(cells), 1), dtype=np.float32)
    for bars in range(1, BARS_AROUND + 1):
        step = bars * bar
        if step >= len(cells):
            break
        total[step:] += cells[:-step]
        counts[step:] += 1
        total[:-step] += cells[step:]
        counts[:-step] += 1
    return np.asarray(total / np.maximum(counts, 1))
