"""When a motion that goes round reaches a place of its turns: known every eighth of a turn, and
still where hands rest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rondel.watching.signals import Numbers

ONE_TURN = 8  # eighths
#: So near to where hands come to rest, in turns, a stroke lands as they do: what slows down ever
#: more hardly turns any further.
_RESTS_WITHIN = 0.06
#: Of a turn; a stroke that lands sooner than this after the motion begins has no way behind it.
_LEAST_WAY = 0.25
#: Of a turn, that may be missing where a take ends as hands land.
LAST_TURN = 0.06

Spans = Sequence[tuple[float, float]]


def turns_at(eighths: Sequence[float], rests: Spans, second: float) -> float:
    """Return how many turns after the first of `eighths` (seconds, rising) hands are at `second`.

    `rests`: spans in seconds, in which they do not turn.
    """
    known = _moved_by(np.array(eighths), rests)
    turns = np.arange(len(known)) / ONE_TURN
    return float(np.interp(_moved_by(np.array([second]), rests)[0], known, turns))


def landings_at(
    eighths: Sequence[float], rests: Spans, place: float, end: float
) -> tuple[float, ...]:
    """Return when hands come to `place` (0 to 1) of their turns, to `end` seconds at the latest.

    Hands that stop there land where they come to rest.
    """
    if len(eighths) <= ONE_TURN:
        return ()
    known = _moved_by(np.array(eighths), rests)
    turns = np.arange(len(known)) / ONE_TURN
    begins = turns[int(np.searchsorted(known, known[0] + 1e-9, side="right")) - 1]
    usual = (known[-1] - known[0]) / max(float(turns[-1] - begins), 1.0)
    stops = [(turns_at(eighths, rests, a), a) for a, b in rests if b > known[0]]
    found: list[float] = []
    for wanted in np.arange(place % 1.0, turns[-1] + 1e-9, 1.0):
        if wanted - begins < _LEAST_WAY:
            continue
        near = min(stops, key=lambda stop: abs(stop[0] - wanted), default=None)
        if near is not None and abs(near[0] - wanted) <= _RESTS_WITHIN:
            found.append(near[1])
            continue
        second = _second_of(float(np.interp(wanted, turns, known)), rests)
        if second <= end + LAST_TURN * usual:
            found.append(min(second, end))
    return tuple(found)


def _moved_by(seconds: Numbers, rests: Spans) -> Numbers:
    """Return `seconds` less those rested before them."""
    rested = np.zeros_like(seconds)
    for start, end in rests:
        rested += np.clip(seconds - start, 0.0, end - start)
    return np.asarray(seconds - rested)


def _second_of(moved: float, rests: Spans) -> float:
    second = moved
    for start, end in sorted(rests):
        if second <= start:
            break
        second += end - start
    return second
