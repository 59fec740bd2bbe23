"""When the stroke lands from which hands leave the picture: they do not come to rest, so that it
ends as they leave."""

from __future__ import annotations

from dataclasses import replace

from rondel.model.take import MotionKind
from rondel.watching.away import Spans
from rondel.watching.stretch import Read
from rondel.watching.turns import landings_at

#: Seconds between a landing and hands that leave, in which they did not rest.
_AT_ONCE = 0.35


def landed_as_they_left(read: Read, away: Spans) -> Read:
    """Return `read` with each landing from which hands leave at once where they begin to."""
    starts = [start for start, _ in away if read.start < start < read.end]
    if not starts:
        return read
    if read.kind is MotionKind.CIRCLE:
        pauses = tuple((_moved(a, starts), b) for a, b in read.pauses)
        landings = landings_at(read.eighths, pauses, 0.0, read.end)
        return replace(read, pauses=pauses, landings=landings)
    landings = tuple(_moved(landing, starts) for landing in read.landings)
    pauses = tuple((_moved(a, starts), b) for a, b in read.pauses)
    return replace(read, landings=landings, pauses=pauses)


def _moved(second: float, starts: list[float]) -> float:
    near = min(starts, key=lambda start: abs(start - second))
    return near if abs(near - second) <= _AT_ONCE else second
