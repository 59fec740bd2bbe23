"""When the outlines of hands are gone: hands have many and bare skin few, and while hands are in
the picture theirs are always somewhere in it. Where they go and nowhere come, no hand is there."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from rondel.watching.moving import Outlines
from rondel.watching.spans import spans_of

Numbers = NDArray[np.float64]

#: A picture is compared with one a second of those so near to it, and not with its neighbours.
_AROUND_SECONDS, _BESIDE_SECONDS = 120.0, 1.5
#: Of those it is compared with, that may be without hands too.
_WITHOUT_HANDS = 30.0  # percent
#: A cell's change counts as far as it is more than so many times its noise, and more than this.
_NOISE, _LEAST_CHANGE = 2.0, 0.05  # the second as a logarithm
#: Cells' worth (as logarithms) that are gone where hands are. In drawn tuning takes hands that are
#: there reach 1.7, those that are not 3.0 and more.
_GONE = 2.2
_GONE_SECONDS = 0.6
#: So long the outlines of something else may hide that those of hands are gone, as an arm's do.
_HIDDEN_SECONDS = 1.5
#: Where outlines begin to go, as a share of what goes.
_BEGINS = 0.25
_SOFT = 3  # pictures
_LEAST_PICTURES = 40


def gone(outlines: Outlines) -> Numbers:
    """Return (pictures,) by how much outlines are gone from each picture, beside the share of
    others that has most: what went less what came, in cells' worth."""
    logs = _logs(outlines)
    least = np.maximum(_NOISE * _noise(logs), _LEAST_CHANGE)
    logs = median_filter(logs, (_SOFT, 1), mode="nearest")
    at = outlines.at
    pick = np.unique(np.searchsorted(at, np.arange(float(at[0]), float(at[-1]), 1.0)))
    found = np.zeros(len(at))
    for number, second in enumerate(at.tolist()):
        away = np.abs(at[pick] - second)
        others = pick[(away < _AROUND_SECONDS) & (away > _BESIDE_SECONDS)]
        if not len(others):
            continue
        off = logs[others] - logs[number]
        counts = off - np.clip(off, -least, least)
        found[number] = np.percentile(counts.sum(axis=1), _WITHOUT_HANDS)
    return found


def _logs(outlines: Outlines) -> Numbers:
    """Return (pictures, cells) how strong outlines are, as logarithms, freed of the light: by what
    most of the picture changes."""
    strength = outlines.cells.reshape(len(outlines.at), -1).astype(np.float64) + 1e-3
    logs = np.log(strength)
    light = np.median(logs - np.median(logs, axis=0), axis=1)
    return np.asarray(logs - light[:, None])


def _noise(logs: Numbers) -> Numbers:
    """Return the standard deviation of each cell's noise from picture to picture."""
    steps = np.abs(np.diff(logs, axis=0))
    return np.asarray(1.4826 / np.sqrt(2.0) * np.median(steps, axis=0))


def spans_without(outlines: Outlines) -> list[tuple[float, float]]:
    """Return the spans, in seconds, in which the outlines of hands are gone, from where they begin
    to go to where they are back."""
    if len(outlines.at) < _LEAST_PICTURES:
        return []
    missing, at = gone(outlines), outlines.at
    found: list[tuple[float, float]] = []
    for start, end in spans_of(missing > _GONE, at, _GONE_SECONDS):
        first, last = (int(n) for n in np.searchsorted(at, [start, end]))
        enough = _BEGINS * float(np.median(missing[first : last + 1]))
        while first > 0 and missing[first - 1] > enough:
            first -= 1
        while last + 1 < len(at) and missing[last] > enough:
            last += 1
        if found and float(at[first]) - found[-1][1] < _HIDDEN_SECONDS:
            found[-1] = (found[-1][0], float(at[last]))
        else:
            found.append((float(at[first]), float(at[last])))
    return found
