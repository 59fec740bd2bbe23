"""A tempo that sways in slow waves, followed through spans in which nothing beats.

Where beats are heard for minutes and two slow waves explain every one of them, the waves are taken
to go on where none is heard: through an opening, a break, a fade. Where they do not explain them,
nothing is claimed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

Seconds = NDArray[np.float64]
Counts = NDArray[np.float64]

#: Seconds that a wave takes; slower ones are a bend of the tempo, faster ones a player's push.
SHORTEST, LONGEST = 30.0, 200.0
PERIODS = 30  # tried between them at first
ZOOMS = 5  # times that the search goes on more finely around the best two
SURE = 0.2  # weight of a beat that is heard
LEAST_BEATS, MOST_BEATS = 60, 2000  # heard, for waves to be looked for
HOLE = 4  # beats in a row that are not heard, for their number to be in doubt
SLIPS = (-2, -1, 0, 1, 2)  # beats by which it may be off
MOST_HOLES = 3
EXPLAINED = 0.012  # seconds by which heard beats may stray from the waves: twice a loose attack
STRAYS = 0.05  # seconds: a beat farther off is left out of the last fit
RIDGE = 1e-3  # keeps two waves that are nearly one from growing against each other
NEAR = 6  # heard beats on either side of a hole whose strays it takes over


@dataclass(frozen=True, slots=True, kw_only=True)
class Sway:
    """Seconds of a beat by its number: even beats, and two waves of `periods` (in beats)."""

    periods: tuple[float, float]
    parts: Seconds
    strays: float

    def seconds(self, numbers: Counts) -> Seconds:
        return np.asarray(_waves(numbers, np.array(self.periods)) @ self.parts)


def swayed(known: Seconds, weights: Seconds) -> tuple[Seconds, Seconds] | None:
    """Return all beats of a row and their weights, those not heard put where the waves have them.

    `known` are the seconds of the row's beats and `weights` (0 to 1) how sure each is. None where
    no waves explain those that are heard. Beats may be added or left out in a hole between them.
    """
    heard = np.flatnonzero(weights > SURE)
    if not LEAST_BEATS <= len(heard) <= MOST_BEATS:
        return None
    at, weight = known[heard], weights[heard]
    holes = np.flatnonzero(np.diff(heard) > HOLE)
    holes = np.sort(holes[np.argsort(-np.diff(heard)[holes], kind="stable")][:MOST_HOLES])
    best: tuple[Sway, Counts] | None = None
    for slips in product(SLIPS, repeat=len(holes)):
        numbers = heard.astype(np.float64)
        for hole, slip in zip(holes, slips, strict=True):
            numbers[hole + 1 :] += slip
        if (np.diff(numbers) < 1).any():
            continue
        sway = _fitted(numbers, at, weight, zooms=0)
        if best is None or sway.strays < best[0].strays:
            best = sway, numbers
    if best is None:
        return None
    numbers = best[1]
    sway = _fitted(numbers, at, weight)
    close = np.abs(at - sway.seconds(numbers)) < STRAYS
    if close.mean() < 0.9:
        return None
    sway = _fitted(numbers[close], at[close], weight[close])
    if sway.strays > EXPLAINED:
        return None
    return _filled(sway, numbers, at, weight, len(known) - int(heard[-1]) - 1)


def _filled(
    sway: Sway, numbers: Counts, at: Seconds, weight: Seconds, after: int
) -> tuple[Seconds, Seconds]:
    """Return every beat from number 0 on: heard ones as heard, the others as the waves have them.

    What heard beats near a hole stray from the waves, the hole strays too, so that none leaps.
    """
    every = np.arange(0, numbers[-1] + after + 1)
    stray = np.asarray(at - sway.seconds(numbers))
    smooth = np.convolve(np.pad(stray, NEAR // 2, mode="edge"), np.ones(NEAR + 1) / (NEAR + 1))
    smooth = smooth[NEAR : len(stray) + NEAR]
    beats = sway.seconds(every) + np.interp(every, numbers, smooth)
    sure = np.full(len(every), SURE)
    places = numbers.astype(np.int64)
    beats[places], sure[places] = at, weight
    return beats, sure


def _fitted(numbers: Counts, at: Seconds, weight: Seconds, zooms: int = ZOOMS) -> Sway:
    """Return the waves that explain beats best, by least squares over pairs of periods."""
    step = float((at[-1] - at[0]) / (numbers[-1] - numbers[0]))
    grid = np.geomspace(SHORTEST / step, LONGEST / step, PERIODS)
    sway = _best_pair(grid, numbers, at, weight)
    ratio = float(grid[1] / grid[0])
    for _ in range(zooms):
        around = np.geomspace(1 / ratio, ratio, 7)
        near = np.unique(np.concatenate([period * around for period in sway.periods]))
        better = _best_pair(near, numbers, at, weight)
        sway = min(sway, better, key=lambda one: one.strays)
        ratio = ratio**0.4
    return sway


def _best_pair(periods: Seconds, numbers: Counts, at: Seconds, weight: Seconds) -> Sway:
    """Return the fit of the best two of `periods`; all pairs share one set of sums."""
    columns = _waves(numbers, periods)
    gram = columns.T @ (columns * weight[:, None])
    gram += RIDGE * np.diag([0.0, 0.0, *np.ones(2 * len(periods))])
    middle = float(at.mean())  # taken off, so that the sums of squares stay exact
    target = columns.T @ (weight * (at - middle))
    first, second = np.triu_indices(len(periods), 1)
    ones, one, other = np.ones_like(first), 2 * first + 2, 2 * second + 2
    pairs = np.stack([0 * ones, ones, one, one + 1, other, other + 1], axis=1)
    parts = np.linalg.solve(gram[pairs[:, :, None], pairs[:, None, :]], target[pairs][:, :, None])
    gained = np.einsum("ij,ij->i", parts[:, :, 0], target[pairs])
    best = int(gained.argmax())
    chosen: Seconds = np.array(parts[best, :, 0], dtype=np.float64)
    chosen[0] += middle
    pair = np.array([periods[first[best]], periods[second[best]]])
    off = at - _waves(numbers, pair) @ chosen
    strays = float(np.sqrt((weight * off**2).sum() / weight.sum()))
    return Sway(periods=(float(pair[0]), float(pair[1])), parts=chosen, strays=strays)


def _waves(numbers: Counts, periods: Seconds) -> Seconds:
    """Return columns for least squares: even beats, then a cosine and a sine of each period."""
    turns = 2 * np.pi * numbers[:, None] / periods[None, :]
    waves = np.stack([np.cos(turns), np.sin(turns)], axis=2).reshape(len(numbers), -1)
    return np.concatenate([np.ones((len(numbers), 1)), numbers[:, None] / 100, waves], axis=1)
