"""The key of sound that was brought, from how much of each pitch class it holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.music.modes import Key

#: How well each pitch class fits a key, from its root up: ratings by listeners, Krumhansl & Kessler
#: 1982, Psychological Review 89:334-368 (values from memory).
MAJOR = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
MINOR = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)

#: The third is left out where major and minor on the root fit within this much of each other.
SURE_MARGIN = 0.12

#: The lowest root: as low as the drones of composed music.
LOWEST_ROOT = 36


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundKey:
    """A key with its fit, -1 to 1, and whether its third can be told."""

    key: Key
    fit: float
    has_third: bool


def find_key(profile: NDArray[np.floating]) -> FoundKey:
    """Return the key whose ratings follow `profile` (12 strengths, C first) most closely.

    Of keys that fit alike the lower root is taken; silence gives C without a third.
    """
    heard = np.asarray(profile, dtype=np.float64)
    fits = {
        mode: [_fit(heard, np.roll(ratings, root)) for root in range(12)]
        for mode, ratings in (("ionian", MAJOR), ("aeolian", MINOR))
    }
    root, mode = max(
        ((r, m) for m in fits for r in range(12)), key=lambda rm: (fits[rm[1]][rm[0]], -rm[0])
    )
    margin = abs(fits["ionian"][root] - fits["aeolian"][root])
    return FoundKey(
        key=Key(root=LOWEST_ROOT + root, mode=mode),
        fit=fits[mode][root],
        has_third=margin >= SURE_MARGIN,
    )


def _fit(heard: NDArray[np.float64], ratings: NDArray[np.float64]) -> float:
    """Return the correlation of two profiles; 0 where one is flat."""
    a, b = heard - heard.mean(), ratings - ratings.mean()
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 1e-12 else 0.0
