"""When the outlines of hands are gone: hands have many and bare skin few, and while hands are in
the picture theirs are always somewhere in it. Where they go and nowhere come, no hand is there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from rondel.watching.moving import Outlines, Seconds
from rondel.watching.spans import spans_of

Numbers = NDArray[np.float64]
Chosen = NDArray[np.int64]
Spans = tuple[tuple[float, float], ...]

#: A picture is compared with some a second of those so near to it, and not with its neighbours.
_AROUND_SECONDS, _BESIDE_SECONDS, _EVERY_SECONDS = 60.0, 1.5, 1.0
#: Of those it is compared with, that may be without hands too.
_WITHOUT_HANDS = 30.0  # percent
#: A cell's change counts as far as it is more than so many times its noise, and more than this.
_NOISE, _LEAST_CHANGE = 2.0, 0.05  # the second as a logarithm
#: Cells' worth (as logarithms) that may be gone where hands are.
_GONE = 2.2
#: The same of a whole span, beside nearly all pictures that have hands, and beside all but a few:
#: how much is gone, and percent that may have fewer. In drawn tuning takes hands at rest reach 1.6
#: of the first, those that left 3.6 and more where no arm crosses. Hands that turn where they have
#: few outlines reach 2.6 of it, but no more than .8 of the second, those that left 2.0 and more.
_SURELY_GONE = ((2.4, 12.0), (1.4, 5.0))
#: Of the outlines beyond what a take has at its barest (percent of pictures), so much may be left
#: in a picture without hands: where it is quiet meanwhile, and else. Hands that go far back still
#: have .63 of theirs; those that left .56 at most, where it is not quiet .43.
_BAREST, _MAY_BE_LEFT, _MAY_BE_LEFT_ELSE = 8.0, 0.6, 0.5
_LEAVE_SECONDS = 0.8
_GONE_SECONDS = 0.6
#: So long the outlines of something else may hide that those of hands are gone, as an arm's do.
_HIDDEN_SECONDS = 1.5
#: Where outlines begin to go, as a share of what goes.
_BEGINS = 0.25
_SOFT = 3  # pictures
_LEAST_PICTURES = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Outlines at every moment `at`: `logs` (pictures, cells) of their strength, freed of the
    light; `least` (cells,): changes up to this are noise; `barest` (cells,): those of the barest
    pictures; `some`: numbers of pictures, spread."""

    at: Seconds
    logs: Numbers
    least: Numbers
    barest: Numbers
    some: Chosen

    def fewer(self, others: Chosen, logs: Numbers, percent: float) -> float:
        """Return by how much there is less in `logs` than in nearly all of `others`: what went less
        what came, in cells' worth; `percent` of them may have less than that more."""
        if not len(others):
            return 0.0
        off = self.logs[others] - logs
        counts = off - np.clip(off, -self.least, self.least)
        return float(np.percentile(counts.sum(axis=1), percent))

    def beyond(self, logs: Numbers) -> Numbers:
        """Return what `logs` (..., cells) have beyond the barest pictures of the take, in cells'
        worth. Shape (...)."""
        more = logs - self.barest
        counts = more - np.clip(more, -self.least, self.least)
        return np.asarray(counts.sum(axis=-1))

    def near(self, start: float, end: float) -> Chosen:
        """Return the numbers of the pictures that `start` to `end` seconds is compared with."""
        first, last = np.searchsorted(
            self.at[self.some], [start - _AROUND_SECONDS, end + _AROUND_SECONDS]
        )
        near = self.some[int(first) : int(last)]
        away = np.maximum(start - self.at[near], self.at[near] - end)
        return np.asarray(near[away > _BESIDE_SECONDS])


def lines_of(outlines: Outlines) -> Lines | None:
    """Return the outlines of a take; None where there are too few pictures."""
    if len(outlines.at) < _LEAST_PICTURES:
        return None
    logs = _logs(outlines)
    least = np.maximum(_NOISE * _noise(logs), _LEAST_CHANGE)
    soft = np.asarray(median_filter(logs, (_SOFT, 1), mode="nearest"))
    at = outlines.at
    some = np.unique(np.searchsorted(at, np.arange(float(at[0]), float(at[-1]), _EVERY_SECONDS)))
    barest = np.asarray(np.percentile(soft, _BAREST, axis=0))
    return Lines(at=at, logs=soft, least=least, barest=barest, some=some)


def gone(lines: Lines) -> Numbers:
    """Return (pictures,) by how much outlines are gone from each picture."""
    found = [
        lines.fewer(lines.near(second, second), row, _WITHOUT_HANDS)
        for second, row in zip(lines.at.tolist(), lines.logs, strict=True)
    ]
    return np.array(found)


def surely_gone(lines: Lines, spans: Spans, quiet: tuple[bool, ...] = ()) -> Spans:
    """Return those of `spans` in which outlines are gone beside nearly all pictures in none.
    `quiet`: in which of them hardly anything moves (none, where it is not said)."""
    has_hands = np.ones(len(lines.at), dtype=bool)
    for start, end in spans:
        has_hands &= (lines.at < start) | (lines.at > end)
    found = []
    for number, (start, end) in enumerate(spans):
        leaving = min(_LEAVE_SECONDS, (end - start) / 3)
        inside = (lines.at >= start + leaving) & (lines.at <= end - leaving)
        others = lines.near(start, end)
        with_hands = others[has_hands[others]]
        if not inside.any() or not len(with_hands):
            continue
        is_quiet = number < len(quiet) and quiet[number]
        if _are_gone(lines, np.median(lines.logs[inside], axis=0), with_hands, is_quiet):
            found.append((start, end))
    return tuple(found)


def _are_gone(lines: Lines, usual: Numbers, with_hands: Chosen, is_quiet: bool) -> bool:
    """True where pictures that are as `usual` lack what those `with_hands` have, and hardly have
    more than the barest."""
    if any(lines.fewer(with_hands, usual, percent) <= least for least, percent in _SURELY_GONE):
        return False
    theirs = float(np.median(lines.beyond(lines.logs[with_hands])))
    most = _MAY_BE_LEFT if is_quiet else _MAY_BE_LEFT_ELSE
    return float(lines.beyond(usual)) < most * theirs


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


def spans_without(lines: Lines) -> list[tuple[float, float]]:
    """Return the spans, in seconds, in which the outlines of hands may be gone, from where they
    begin to go to where they are back."""
    missing, at = gone(lines), lines.at
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
