"""How a track lies under beats that a routine already has: one shift for all of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

#: Beats this near to each other are the same beat: the window in which beat trackers are judged
#: (MIREX Audio Beat Tracking, F-measure), on either side.
SAME_BEAT_SECONDS = 0.07
#: The track is only shifted where so many of the routine's beats then fall on its own, and so many
#: more than unshifted: else the file is taken at its word.
LEAST_SHARE, LEAST_GAIN = 0.7, 0.1
#: No shift is sought beyond this.
FURTHEST_SECONDS = 120.0


def best_shift(wanted: Sequence[float], heard: Sequence[float]) -> float:
    """Return the seconds of the track at the session's second 0, so that its beats meet `wanted`.

    Negative where the track begins later than the session. 0 where its beats lie there already,
    are not known, or meet them nowhere; of equally good shifts the least is taken.
    """
    beats, own = np.asarray(wanted, dtype=np.float64), np.asarray(heard, dtype=np.float64)
    if len(beats) < 2 or len(own) < 2:
        return 0.0
    shifts = np.unique(np.round([0.0, *_candidates(beats, own)], 4))
    shares = [_share(beats, own, shift) for shift in shifts]
    unshifted = _share(beats, own, 0.0)
    best = max(shares)
    if best < LEAST_SHARE or best < unshifted + LEAST_GAIN:
        return 0.0
    good = [s for s, share in zip(shifts, shares, strict=True) if share >= best - 0.02]
    nearest = float(min(good, key=abs))
    return nearest + _rest(beats + nearest, own)


def _candidates(beats: np.ndarray, own: np.ndarray) -> np.ndarray:
    """Return the shifts that bring one of a few beats onto any beat of the track."""
    probes = beats[np.linspace(0, len(beats) - 1, 5).astype(int)]
    shifts = (own[:, None] - probes[None, :]).ravel()
    return np.asarray(shifts[np.abs(shifts) <= FURTHEST_SECONDS])


def _nearest(places: np.ndarray, own: np.ndarray) -> np.ndarray:
    """Return how far each place is from the beat of the track that is nearest to it."""
    right = np.clip(np.searchsorted(own, places), 1, len(own) - 1)
    before, after = own[right - 1] - places, own[right] - places
    return np.asarray(np.where(np.abs(before) <= np.abs(after), before, after))


def _share(beats: np.ndarray, own: np.ndarray, shift: float) -> float:
    return float((np.abs(_nearest(beats + shift, own)) <= SAME_BEAT_SECONDS).mean())


def _rest(places: np.ndarray, own: np.ndarray) -> float:
    """Return what is still missing: the middle of the distances of the beats that meet."""
    off = _nearest(places, own)
    meets = off[np.abs(off) <= SAME_BEAT_SECONDS]
    return float(np.median(meets)) if len(meets) else 0.0
