"""How a track lies under beats that a routine already has: one shift for all of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Seconds = NDArray[np.float64]

#: Beats this near to each other are the same beat: the window in which beat trackers are judged
#: (MIREX Audio Beat Tracking, F-measure), on either side.
SAME_BEAT_SECONDS = 0.07
#: The track is only shifted where so many of the routine's beats then fall on its own.
LEAST_SHARE = 0.7
#: Shifts whose beats are off by so little more than the best one's are as good (our choice).
AS_GOOD_SECONDS = 0.002
#: No shift is sought beyond this.
FURTHEST_SECONDS = 120.0
#: Shifts are first tried on so many beats, and the best of them on all.
PROBES, FINALISTS = 24, 40


def best_shift(wanted: Sequence[float] | Seconds, heard: Sequence[float] | Seconds) -> float:
    """Return the seconds of the track at the session's second 0, so that its beats meet `wanted`.

    Negative where the track begins later than the session. 0 where its beats lie there already,
    are not known, or meet them nowhere; of equally good shifts the least is taken.
    """
    beats, own = np.asarray(wanted, dtype=np.float64), np.asarray(heard, dtype=np.float64)
    if len(beats) < 2 or len(own) < 2:
        return 0.0
    some = beats[np.linspace(0, len(beats) - 1, min(PROBES, len(beats))).astype(int)]
    shifts = np.unique(np.concatenate([[0.0], _candidates(some[:: len(some) // 4 or 1], own)]))
    rough = _off(some[None, :] + shifts[:, None], own)
    finalists = np.unique([0.0, *shifts[np.argsort(rough, kind="stable")[:FINALISTS]]])
    refined = np.array([0.0, *(s + _rest(beats + s, own) for s in finalists)])
    off = _off(beats[None, :] + refined[:, None], own)
    good = refined[off <= off.min() + AS_GOOD_SECONDS]
    nearest = float(min(good, key=abs))
    meets = np.abs(_nearest(beats + nearest, own)) <= SAME_BEAT_SECONDS
    return nearest if meets.mean() >= LEAST_SHARE else 0.0


def _candidates(probes: Seconds, own: Seconds) -> Seconds:
    """Return the shifts that bring one of a few beats onto any beat of the track."""
    shifts = (own[:, None] - probes[None, :]).ravel()
    return np.asarray(shifts[np.abs(shifts) <= FURTHEST_SECONDS])


def _nearest(places: Seconds, own: Seconds) -> Seconds:
    """Return how far each place is from the beat of the track that is nearest to it."""
    right = np.clip(np.searchsorted(own, places), 1, len(own) - 1)
    before, after = own[right - 1] - places, own[right] - places
    return np.asarray(np.where(np.abs(before) <= np.abs(after), before, after))


def _off(places: Seconds, own: Seconds) -> Seconds:
    """Return how far, in the mean, each row of places is off; a beat that is lost is lost."""
    return np.asarray(np.minimum(np.abs(_nearest(places, own)), SAME_BEAT_SECONDS).mean(axis=-1))


def _rest(places: Seconds, own: Seconds) -> float:
    """Return what is still missing: the middle of the distances of the beats that meet."""
    off = _nearest(places, own)
    meets = off[np.abs(off) <= SAME_BEAT_SECONDS]
    return float(np.median(meets)) if len(meets) else 0.0
