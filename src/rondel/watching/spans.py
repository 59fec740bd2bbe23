"""Spans of time in which something holds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rondel.watching.moving import Seconds


def spans_of(flags: NDArray[np.bool_], at: Seconds, least: float) -> list[tuple[float, float]]:
    """Return the spans in which `flags` hold for at least `least` seconds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    found = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        start, end = float(at[a]), float(at[min(b, len(at) - 1)])
        if end - start >= least:
            found.append((start, end))
    return found
