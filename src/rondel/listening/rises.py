"""Rises: noise, chords or tones that swell into a change, and end there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rondel.listening.cells import slow_loudness
from rondel.listening.features import SLOW, Features, Floats
from rondel.listening.swells import strongest_near, swell_evidence
from rondel.model.track import Section, Span

#: Evidence that makes a rise where a section begins, and anywhere else. From the tuning seeds.
INTO_A_CHANGE, ANYWHERE = -2.5, 2.5
NEAR = 0.8  # seconds between a change and the top of the rise that leads to it
APART = 3.0  # seconds between the tops of two rises, at least
LONGEST, SHORTEST = 12.0, 2.5  # seconds
BEGUN = 0.15  # share of its growth at which a rise is said to have begun


def hear_rises(
    features: Features, sections: Sequence[Section], evidence: Floats | None = None
) -> tuple[Span, ...]:
    """Return the rises of a track, each from where it begins to grow to its top.

    A rise that leads to a section ends with the second at which that begins.
    """
    swells = swell_evidence(features) if evidence is None else evidence
    tops = []
    for section in sections[1:]:
        at = section.span.start
        if strongest_near(swells, at, NEAR)[0] > INTO_A_CHANGE:
            tops.append(at)
    tops += [at for at in _peaks(swells) if all(abs(at - top) > APART for top in tops)]
    loud = slow_loudness(features, 30.0)
    spans = (Span(start=_beginning(loud, top), end=top) for top in sorted(tops) if top > SHORTEST)
    return tuple(spans)


def _peaks(swells: Floats) -> list[float]:
    peaks = []
    for row in np.flatnonzero(swells > ANYWHERE).tolist():
        if strongest_near(swells, row / SLOW, APART) == (float(swells[row]), row / SLOW):
            peaks.append(row / SLOW)
    return peaks


def _beginning(loud: Floats, top: float) -> float:
    """Return where what is loudest at the top, against what follows it, began to grow."""
    last = round(top * SLOW)
    first = max(0, last - round(LONGEST * SLOW))
    before, after = loud[last - 8 : last - 2], loud[last + 3 : last + 11]
    if not len(after):
        return first / SLOW
    falls = np.clip(before.mean(axis=0) - after.mean(axis=0), 0, None)
    curve = loud[first : last - 2] @ (falls / max(float(falls.sum()), 1e-9))
    smooth = np.convolve(curve, np.ones(10) / 10, mode="valid")
    grown = smooth[-1] - smooth.min()
    below = np.flatnonzero(smooth <= smooth.min() + BEGUN * grown)
    begun = first + (int(below[-1]) if len(below) else 0) + 5
    return min(begun / SLOW, top - SHORTEST)
