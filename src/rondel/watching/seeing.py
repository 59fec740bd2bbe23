"""All that is seen in a take: its stretches of one kind of motion, read one by one."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.watching.changes import stretches_of
from rondel.watching.moving import Moved
from rondel.watching.signals import Signals, signals_of
from rondel.watching.stretch import Read, read

#: Landings nearer to each other than this are one that two stretches claim.
_ONE_LANDING = 0.2


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
    reads, unread = [], []
    for start, end in stretches_of(signals):
        found = read(signals, start, end)
        if found is None:
            unread.append((start, end))
        else:
            reads.append(found)
    return SeenMotion(reads=tuple(reads), unread=tuple(unread))
