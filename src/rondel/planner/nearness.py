"""Staying near a routine, or away from others: an extra cost a bar, and how much is shared."""

from __future__ import annotations

from rondel.model.routine import Routine
from rondel.model.words import Position
from rondel.planner.blocks import Block
from rondel.planner.costs import Extra

_CHANGED = 0.25  # a bar that is no longer what it was
_SHARED = 0.3  # a bar that is as in the other routine

#: What is done in a bar: technique, side and pressure.
Done = tuple[str | None, str, int]


def bars_of(routine: Routine) -> tuple[Done, ...]:
    """Return what is done in every bar of the line."""
    return tuple((p.technique, p.side, p.pressure) for p in routine.line for _ in range(p.bars))


def share_alike(one: Routine, other: Routine) -> float:
    """Return the share of bars in which both do the same technique on the same side."""
    a, b = bars_of(one), bars_of(other)
    same = sum(x[:2] == y[:2] for x, y in zip(a, b, strict=False))
    return same / max(len(a), len(b), 1)


def home_in(routine: Routine) -> tuple[tuple[str | None, int, int], ...]:
    """Return the refrain of `routine` as (technique, pressure, bars) of its passages."""
    returns = routine.refrains
    return tuple((p.technique, p.pressure, p.bars) for p in returns[0]) if returns else ()


def near_to(routine: Routine) -> Extra:
    """Return a cost for every bar that differs from `routine` in technique, side or pressure."""
    done = bars_of(routine)

    def cost(block: Block, bar: int, position: Position) -> float:
        changed, at = 0, bar
        for part in block.parts:
            wanted = (_id(block, part.technique), part.side, part.pressure)
            changed += sum(done[i] != wanted for i in range(at, min(at + part.bars, len(done))))
            changed += max(0, at + part.bars - max(at, len(done)))
            at += part.bars
        return _CHANGED * changed

    return cost


def away_from(routines: tuple[Routine, ...], weight: float) -> Extra:
    """Return a cost for every bar that does what one of `routines` does there."""
    rows = [bars_of(r) for r in routines]

    def cost(block: Block, bar: int, position: Position) -> float:
        shared, at = 0, bar
        for part in block.parts:
            wanted = (_id(block, part.technique), part.side)
            for done in rows:
                ends = min(at + part.bars, len(done))
                shared += sum(done[i][:2] == wanted for i in range(at, ends))
            at += part.bars
        return weight * _SHARED * shared

    return cost


def _id(block: Block, number: int) -> str | None:
    """Return the name of a technique of `block`; None for open bars."""
    return block.ids[block.numbers.index(number)] if number >= 0 else None
