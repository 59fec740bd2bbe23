"""Sound of any number of channels, folded to the two that a session has."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Sound = NDArray[np.float32]  # (frames, channels)

#: Speakers in the order of files that do not name them, by the number of channels (WAVE's order).
USUAL_PLACES: dict[int, tuple[str, ...]] = {
    1: ("FC",),
    2: ("FL", "FR"),
    3: ("FL", "FR", "FC"),
    4: ("FL", "FR", "BL", "BR"),
    5: ("FL", "FR", "FC", "BL", "BR"),
    6: ("FL", "FR", "FC", "LFE", "BL", "BR"),
    7: ("FL", "FR", "FC", "LFE", "BC", "SL", "SR"),
    8: ("FL", "FR", "FC", "LFE", "BL", "BR", "SL", "SR"),
}
#: A middle or rear speaker is 3 dB softer in each channel that takes it (ITU-R BS.775, 0.7071).
SHARED = 0.7071
_LEFT = frozenset({"FL", "FLC", "DL", "WL", "TFL"})
_RIGHT = frozenset({"FR", "FRC", "DR", "WR", "TFR"})
_LEFT_BEHIND = frozenset({"BL", "SL", "SDL", "TBL", "TSL"})
_RIGHT_BEHIND = frozenset({"BR", "SR", "SDR", "TBR", "TSR"})
_BASS = frozenset({"LFE", "LFE2"})


def usual_places(channels: int) -> tuple[str, ...]:
    """Return where each of `channels` belongs where nobody says: left and right in turn if many."""
    in_turn = tuple("FL" if k % 2 == 0 else "FR" for k in range(channels))
    return USUAL_PLACES.get(channels, in_turn)


def fold_weights(places: tuple[str, ...]) -> Sound:
    """Return (channels, 2): how much of each channel goes left and right; each side sums to 1.

    So folding can never clip, and mono sounds the same on both sides. The bass effects channel
    is left out, as BS.775 has it, unless there is nothing else.
    """
    weights = np.array([_sides(place) for place in places], dtype=np.float32)
    if not weights.any():
        weights[:] = 1
    return np.asarray(weights / np.maximum(weights.sum(axis=0), 1e-9), dtype=np.float32)


def _sides(place: str) -> tuple[float, float]:
    if place in _BASS:
        return 0.0, 0.0
    if place in _LEFT:
        return 1.0, 0.0
    if place in _RIGHT:
        return 0.0, 1.0
    if place in _LEFT_BEHIND:
        return SHARED, 0.0
    if place in _RIGHT_BEHIND:
        return 0.0, SHARED
    return SHARED, SHARED


def fold(sound: Sound, weights: Sound) -> Sound:
    """Return `sound` as (frames, 2); what is not a number (a broken float file) is silence."""
    whole = np.nan_to_num(sound, copy=False, nan=0.0, posinf=0.0, neginf=0.0)
    if np.array_equal(weights, np.eye(2)):
        return np.ascontiguousarray(whole)
    return np.ascontiguousarray(whole @ weights, dtype=np.float32)
