"""Blocks and pairs, as the rule book defines them.

A deep run is a longest run of neighbouring deep passages on one side and region. A block is a
passage, or a deep run with the rest at once after it: passages of counted pressure 2 or less on
the same region and side, not of the refrain, taken until they last half as long as the run.
A pair is two neighbouring one-sided blocks: same techniques, pressures and bars, sides mirrored.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from rondel.model.routine import Passage
from rondel.model.words import Role, Side
from rondel.rules.rest import MAX_PRESSURE, SHARE


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """`work` is one passage or a deep run, `rest` what belongs to the run; `at` is its place.

    The place counts passages of the line from 0.
    """

    at: int
    work: tuple[Passage, ...]
    rest: tuple[Passage, ...] = ()

    @property
    def passages(self) -> tuple[Passage, ...]:
        return self.work + self.rest

    @property
    def first(self) -> Passage:
        return self.work[0]

    @property
    def past(self) -> int:
        """The place in the line of the first passage after the block."""
        return self.at + len(self.work) + len(self.rest)

    @property
    def side(self) -> Side:
        return self.first.side

    @property
    def is_deep(self) -> bool:
        return self.first.is_deep

    @property
    def is_one_sided(self) -> bool:
        """True for work on the left or on the right; bars left open are nobody's side."""
        return self.side.is_one_sided and not self.first.is_open

    @property
    def pattern(self) -> tuple[tuple[str | None, int, int], ...]:
        """What the other side has to repeat: techniques, pressures and bars."""
        return tuple((p.technique, p.pressure, p.bars) for p in self.passages)


def blocks_of(
    line: tuple[Passage, ...],
    region: Callable[[Passage], str | None],
    counted: Callable[[Passage], int],
    seconds: Callable[..., float],
) -> tuple[Block, ...]:
    """Return `line` cut into blocks. A technique that is not known is a region of its own."""

    def where(passage: Passage) -> tuple[str | None, Side]:
        return region(passage) or passage.technique, passage.side

    def is_rest(passage: Passage, deep: Passage) -> bool:
        light = counted(passage) <= MAX_PRESSURE and not passage.is_open
        return light and passage.role is not Role.REFRAIN and where(passage) == where(deep)

    found = []
    i = 0
    while i < len(line):
        first, past = line[i], i + 1
        if first.is_deep:
            while past < len(line) and line[past].is_deep and where(line[past]) == where(first):
                past += 1
        work, rest = line[i:past], past
        if first.is_deep:
            needed = seconds(*work) * SHARE
            while (
                rest < len(line)
                and is_rest(line[rest], first)
                and seconds(*line[past:rest]) < needed - 0.01
            ):
                rest += 1
        found.append(Block(at=i, work=work, rest=line[past:rest]))
        i = rest
    return tuple(found)


def partners_of(blocks: tuple[Block, ...]) -> tuple[int | None, ...]:
    """Return for each block the place of its partner; pairs are found from the start on."""
    partners: list[int | None] = [None] * len(blocks)
    for i, (one, other) in enumerate(pairwise(blocks)):
        if partners[i] is None and may_pair(one, other):
            partners[i], partners[i + 1] = i + 1, i
    return tuple(partners)


def may_pair(one: Block, other: Block) -> bool:
    """True where one block repeats the other on the other side."""
    return (
        one.is_one_sided
        and other.is_one_sided
        and one.side is other.side.other
        and one.pattern == other.pattern
    )
