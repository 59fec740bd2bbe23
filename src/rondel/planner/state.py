"""Where a half-made plan stands: all that the rules remember of its past, small and immutable."""

from __future__ import annotations

from rondel.model.words import Position
from rondel.planner.blocks import Block

RHYTHM, FILLER, STRETCH = 1, 2, 4

BEFORE, WITHIN, AFTER = 0, 1, 2  # of the peak row

MAIN_BITS = 16
_MAIN_MASK = (1 << MAIN_BITS) - 1


def main_bars(packed: int, count: int) -> list[int]:
    """Return the bars on each of `count` main regions."""
    return [packed >> (MAIN_BITS * i) & _MAIN_MASK for i in range(count)]


class State:
    """One plan up to `bar`. Never changed once made; `parent` leads back to the arrival.

    Sets are bits; `warmed` and `main` are counts packed into one whole number each.
    """

    __slots__ = (
        "bar",
        "block",
        "brightest",
        "changes",
        "contact",
        "cost",
        "counted",
        "counts",
        "exit_free",
        "family",
        "flags",
        "home_end",
        "keeps",
        "longest",
        "main",
        "main_total",
        "opens",
        "parent",
        "peak_energy",
        "phase",
        "position",
        "region",
        "returns",
        "row_bars",
        "row_start",
        "run",
        "start",
        "touched",
        "used_last",
        "warmed",
        "wide",
    )

    bar: int
    start: int  # of the last block
    block: Block
    parent: State | None
    cost: float
    position: Position
    changes: int
    region: int
    counts: int
    exit_free: bool
    returns: int
    home_end: int
    phase: int
    row_start: int
    row_bars: int
    run: int  # bars at 3 up to now
    longest: int  # of such runs outside the peak row
    brightest: float  # the most energy outside the peak row, before it
    peak_energy: float
    warmed: int
    used_last: int
    contact: str
    family: str
    touched: int
    wide: int
    main: int
    main_total: int
    counted: int
    flags: int
    opens: int
    keeps: int

    def blocks(self) -> list[tuple[int, Block, Position]]:
        """Return (start, block, position) from the arrival to here."""
        found: list[tuple[int, Block, Position]] = []
        state: State | None = self
        while state is not None:
            found.append((state.start, state.block, state.position))
            state = state.parent
        return found[::-1]
