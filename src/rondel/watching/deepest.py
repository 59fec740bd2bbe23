"""When a press is deepest, told by the whole way from closing in quickest to opening quickest; and
when hands come to rest.

What is seen of a press is how far it went within half a second, so that the moment where it turns
is blurred, and by more where one side of it is quicker. So a turn is fitted that is blurred alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from rondel.watching.moving import Seconds
from rondel.watching.signals import Numbers
from rondel.watching.strokes import Lobe

#: A fitted turn lies no further than this from where the slopes of both sides met, in seconds.
_REACH = 0.4
_LEAST_QUARTER = 0.2  # seconds from the quickest moment to the turn
#: Of the highest speed; what is further off than this hardly counts.
_ROUGH = 0.05
_LEAST_SAMPLES, _LEAST_SLOW = 12, 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Slowing:
    """How hands come to rest: the part of it that is fitted, as a share of their highest speed, and
    how far from where its root ends they may rest, in seconds."""

    share: float
    reach: float


#: A press is slow, so that more of it is needed, and its rest is told less well by a root.
PRESS_SLOWS, GLIDE_SLOWS = Slowing(share=0.7, reach=0.8), Slowing(share=0.3, reach=0.15)
#: Times as long as from the quickest moment to the rest: when speed would have risen again, were it
#: told by its fall alone. Least jerk from a turn to a rest would make it 1.5; presses are quickest
#: later on their way (drawn tuning takes).
_TO_REST = 2.5
_TRY_EVERY = 0.01  # seconds


def deepest(
    speed: Numbers, at: Seconds, sides: tuple[Lobe, Lobe], guess: float, seen_over: float
) -> float:
    """Return when hands turn, between closing in and opening (`sides`), near to `guess`.

    `speed`: of closing in, seen over `seen_over` seconds. Each side is a quarter of a sine of its
    own length and strength.
    """
    closing, opening = (_within(at, lobe) for lobe in sides)
    if min(closing.stop - closing.start, opening.stop - opening.start) < 3:
        return guess
    quickest = float(at[closing][np.argmax(speed[closing])])
    opens = float(at[opening][np.argmin(speed[opening])])
    before, after = max(guess - quickest, _LEAST_QUARTER), max(opens - guess, _LEAST_QUARTER)
    high, low = float(speed[closing].max()), float(-speed[opening].min())
    used = (at > guess - before) & (at < guess + after)
    if np.count_nonzero(used) < _LEAST_SAMPLES or min(high, low) <= 0:
        return guess
    seconds, seen = at[used], speed[used]
    usual = np.array([before, after, high, low])
    found = least_squares(
        lambda p: _turn(p, seconds, seen_over / 2) - seen,
        np.array([guess, *usual]),
        bounds=([guess - _REACH, *(usual / 2)], [guess + _REACH, *(2 * usual)]),
        x_scale=np.array([_ROUGH, *usual]),
        loss="soft_l1",
        f_scale=_ROUGH * max(high, low),
    )
    return float(found.x[0])


def _within(at: Seconds, lobe: Lobe) -> slice:
    first, last = np.searchsorted(at, [lobe.start, lobe.end])
    return slice(int(first), int(last))


def _turn(told: Numbers, seconds: Seconds, half: float) -> Numbers:
    """Return the mean speed within `half` on both sides of `seconds` of a turn: when it is, seconds
    from the quickest moment to it and from it to the quickest, highest speeds."""
    turn, before, after, high, low = told

    def place(off: Numbers) -> Numbers:
        quarters = np.pi / 2 / np.array([before, after])
        earlier = (np.cos(quarters[0] * np.minimum(off, 0)) - 1) * high / quarters[0]
        later = (np.cos(quarters[1] * np.maximum(off, 0)) - 1) * low / quarters[1]
        return np.asarray(earlier + later)

    off = seconds - turn
    return np.asarray((place(off + half) - place(off - half)) / (2 * half))


def settled(
    speed: Numbers, at: Seconds, lobe: Lobe, seen_over: float, *, slows: Slowing = PRESS_SLOWS
) -> float:
    """Return when hands that move one way (`lobe`) come to rest: at last their speed falls with the
    square of time, as on the path of least jerk."""
    guess = lobe.soft_end
    way = _within(at, lobe)
    if way.stop - way.start < 3:
        return guess
    top = way.start + int(np.argmax(speed[way]))
    used = (at > at[top]) & (at < guess + 2 * seen_over)
    slow = np.flatnonzero(used & (speed < slows.share * speed[top]))
    if len(slow) < _LEAST_SLOW:
        return guess
    first, last = int(slow[0]), int(slow[-1]) + 1
    tries = np.arange(
        max(guess - slows.reach, float(at[top]) + _TRY_EVERY), guess + slows.reach, _TRY_EVERY
    )
    misses = [
        _miss(at[first:last] - one, speed[first:last], one - float(at[top]), seen_over / 2)
        for one in tries.tolist()
    ]
    return float(tries[int(np.argmin(misses))])


def _miss(off: Numbers, seen: Numbers, quickest: float, half: float) -> float:
    """Return how badly hands that rest from `off` zero on, `quickest` seconds after they were
    quickest, tell what was seen."""
    whole = _TO_REST * max(quickest, _LEAST_QUARTER)

    def place(left: Numbers) -> Numbers:
        left = np.maximum(left, 0.0)
        return np.asarray(left**3 / 3 - left**4 / (4 * whole))

    shape = place(half - off) - place(-half - off)
    size = float(shape @ seen) / max(float(shape @ shape), 1e-12)
    return float(((size * shape - seen) ** 2).sum())
