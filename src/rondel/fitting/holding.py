"""Film of hands that rest, for as long as a passage lasts: no stroke has to land there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from rondel.fitting.choosing import Limits
from rondel.fitting.named import NamedTake
from rondel.model.shots import Shot, TimeMap

#: What is left out at both ends of a take: the hand that starts and stops the camera.
SPARE_SECONDS = 0.5
#: So many beginnings of one part are shown before it is said that there is too little of it.
_MOST_LOOPS = 12


def held_shots(
    span: tuple[float, float], takes: Sequence[tuple[NamedTake, bool]], limits: Limits
) -> tuple[Shot, ...]:
    """Return shots from one second of the session to another of the part of `takes` that lasts
    longest; `takes` come with whether they are mirrored.

    Film is slowed as far as `limits` allow, then shown again from its start. None where that would
    make shots shorter than allowed, or very many of them.
    """
    parts = [
        (end - start, -n, start)
        for n, (take, _) in enumerate(takes)
        for start, end in _still_parts(take)
    ]
    if not parts:
        return ()
    seconds, negative, start = max(parts)
    take, is_mirrored = takes[-negative]
    needed = span[1] - span[0]
    count = max(1, math.ceil(needed * limits.slowest / seconds - 1e-9))
    lasts = needed / count
    if count > _MOST_LOOPS or (count > 1 and lasts < limits.shortest_shot):
        return ()
    shown = min(seconds, lasts)
    edges = [span[0] + lasts * n for n in range(count + 1)]
    return tuple(
        Shot(
            take=take.name,
            map=TimeMap(at=(a, b), shows=(start, start + shown)),
            beats=(),
            landings=(),
            is_mirrored=is_mirrored,
        )
        for a, b in pairwise(edges)
    )


def _still_parts(take: NamedTake) -> list[tuple[float, float]]:
    """Return the parts of a take with hands in it, without a cut of the camera and a slip."""
    seen = take.seen
    edges = [0.0, *seen.cuts, seen.seconds]
    whole = [(a + SPARE_SECONDS, b - SPARE_SECONDS) for a, b in pairwise(edges)]
    for slip in sorted((*seen.slips, *seen.away), key=lambda one: one.start):
        whole = [
            part
            for a, b in whole
            for part in ((a, min(b, slip.start)), (max(a, slip.end), b))
            if part[1] > part[0]
        ]
    return sorted({part for part in whole if part[1] - part[0] >= 1.0})
