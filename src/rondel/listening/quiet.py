"""Where no beat is heard, kept apart from where one cannot be sure."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.ndimage import median_filter, uniform_filter1d

from rondel.listening.features import Floats
from rondel.listening.network import RATE, Impression
from rondel.model.track import Span

SMOOTH = 3.0  # seconds
ABSENT, PRESENT = 0.35, 0.65  # shares of `heard` below and above which it is sure
#: Of the loud parts' root mean square: what is softer than this (60 dB below) is silence to anyone
#: who listens to the rest, whatever beat goes on in the mind.
SILENT = 1e-3
LEAST = 4.0  # seconds: shorter spans are part of what is around them


def quiet_spans(
    impression: Impression, seconds: float, rms: Floats
) -> tuple[tuple[Span, ...], tuple[Span, ...]]:
    """Return (beatless, unsure) spans of a track, apart from each other and in order.

    `rms`: root mean square ten times a second, as features have it. Where it is silent for long,
    no beat is heard, however surely it goes on behind.
    """
    share = uniform_filter1d(impression.heard, max(1, round(SMOOTH * RATE / 2)), mode="nearest")
    share = median_filter(share[::5], size=max(1, round(SMOOTH * RATE / 5)), mode="nearest")
    kinds = np.where(share < ABSENT, 0, np.where(share > PRESENT, 2, 1))
    kinds[_silent(rms, len(kinds))] = 0
    runs = _settled(_runs(kinds))
    step = 5 / RATE
    last = len(kinds)
    spans: dict[int, list[Span]] = {0: [], 1: [], 2: []}
    for kind, first, past in runs:
        end = seconds if past == last else min(past * step, seconds)
        if first * step < end:
            spans[kind].append(Span(start=first * step, end=end))
    return tuple(spans[0]), tuple(spans[1])


def _silent(rms: Floats, count: int) -> Floats:
    """Return for each of `count` tenths of a second whether it belongs to a long silence."""
    is_silent = np.zeros(count, dtype=bool)
    there = min(count, len(rms))
    is_silent[:there] = rms[:there] < SILENT * np.percentile(rms, 95) if there else False
    for value, first, past in _runs(is_silent):
        if value and (past - first) * 5 / RATE < LEAST:
            is_silent[first:past] = False
    return is_silent


def _runs(kinds: Floats) -> list[tuple[int, int, int]]:
    edges = [0, *(np.flatnonzero(np.diff(kinds)) + 1).tolist(), len(kinds)]
    return [(int(kinds[a]), a, b) for a, b in pairwise(edges) if a < b]


def _settled(runs: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Give the shortest run to its longer neighbour until none is shorter than LEAST."""
    least = LEAST * RATE / 5
    while len(runs) > 1:
        place = min(range(len(runs)), key=lambda k: runs[k][2] - runs[k][1])
        _, first, past = runs[place]
        if past - first >= least:
            break
        sides = [k for k in (place - 1, place + 1) if 0 <= k < len(runs)]
        kind = runs[max(sides, key=lambda k: runs[k][2] - runs[k][1])][0]
        runs[place] = (kind, first, past)
        joined: list[tuple[int, int, int]] = []
        for kind, first, past in runs:
            if joined and joined[-1][0] == kind:
                joined[-1] = (kind, joined[-1][1], past)
            else:
                joined.append((kind, first, past))
        runs = joined
    return runs
