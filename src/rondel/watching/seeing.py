"""All that is seen in a take: its stretches of one kind of motion, read one by one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rondel.model.take import MotionKind
from rondel.watching.changes import stretches_of
from rondel.watching.leaving import landed_as_they_left
from rondel.watching.moving import Moved
from rondel.watching.signals import Signals, signals_of
from rondel.watching.stretch import Read, read

#: Landings nearer to each other than this are one that two stretches claim.
_ONE_LANDING = 0.2
_BESIDE = 0.5  # seconds
_AS_LONG = 1.5  # times, that strokes of one motion may differ from one stretch to the next
_SAME_WAY = 0.85  # cosine


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenMotion:
    """What was seen: `reads` in order; `unread`: spans where nothing that repeats was found."""

    reads: tuple[Read, ...]
    unread: tuple[tuple[float, float], ...]

    @property
    def landings(self) -> tuple[float, ...]:
        found: list[float] = []
        for one in self.reads:
            found.extend(t for t in one.landings if not found or t - found[-1] > _ONE_LANDING)
        return tuple(found)


def see(moved: Moved) -> SeenMotion:
    """Return what hands do in a take."""
    return see_signals(signals_of(moved))


def see_signals(signals: Signals) -> SeenMotion:
    reads: list[Read] = []
    unread = []
    for start, end in stretches_of(signals):
        found = read(signals, start, end)
        if found is None:
            unread.append((start, end))
            continue
        whole = _as_one(signals, reads[-1], found) if reads else None
        if whole is not None:
            reads[-1] = whole
        else:
            reads.append(found)
    landed = (landed_as_they_left(one, signals.away) for one in reads)
    return SeenMotion(reads=tuple(landed), unread=tuple(unread))


def _as_one(signals: Signals, before: Read, after: Read) -> Read | None:
    """Return two stretches side by side as one, where hands go on as they did: something else in
    the picture had parted them. None where they do not."""
    if before.kind is not after.kind or after.start - before.end > _BESIDE:
        return None
    longer = max(before.period, after.period) / max(min(before.period, after.period), 1e-9)
    along = abs(float(np.dot(before.way, after.way))) if before.way and after.way else 0.0
    is_same_way = along > _SAME_WAY or before.kind is MotionKind.CIRCLE
    if longer > _AS_LONG or not is_same_way:
        return None
    whole = read(signals, before.start, after.end)
    if whole is None or whole.kind is not before.kind:
        return None
    apart = len(before.landings) + len(after.landings)
    return whole if abs(len(whole.landings) - apart) <= 2 else None
