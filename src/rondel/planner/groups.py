"""Passages that belong together: what a teacher means when she points at one of them.

A group is one passage, a left and right pair, deep work with its rests (on both sides, where it has
two), a return of the refrain, or bars left open.
"""

from __future__ import annotations

from dataclasses import dataclass

from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import Role, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Neighbouring passages of the line. `a_side` counts those of the first side of a pair."""

    passages: tuple[Passage, ...]
    a_side: int

    @property
    def first(self) -> Passage:
        return self.passages[0]

    @property
    def is_pair(self) -> bool:
        return self.a_side < len(self.passages) and not self.is_refrain

    @property
    def is_refrain(self) -> bool:
        return self.first.role is Role.REFRAIN

    @property
    def is_open(self) -> bool:
        return self.first.is_open

    @property
    def is_deep(self) -> bool:
        return self.first.is_deep

    @property
    def is_turning(self) -> bool:
        """True for a rest that answers no deep work: the receiver turns over."""
        return self.first.role is Role.REST

    @property
    def start_bar(self) -> int:
        return self.first.start_bar

    @property
    def end_bar(self) -> int:
        return self.passages[-1].end_bar

    @property
    def bars(self) -> int:
        return self.end_bar - self.start_bar

    @property
    def work(self) -> tuple[Passage, ...]:
        """The passages of the first side without the rest; of a refrain, the whole row."""
        once = self.passages[: self.a_side]
        if self.is_turning:
            return once
        return tuple(p for p in once if p.role is not Role.REST)

    @property
    def work_bars(self) -> int:
        """The bars of the work on one side, without its rest."""
        return sum(p.bars for p in self.work)

    @property
    def rest_bars(self) -> int:
        """The bars of rest on one side."""
        return sum(p.bars for p in self.passages[: self.a_side]) - self.work_bars

    @property
    def techniques(self) -> tuple[str | None, ...]:
        return tuple(p.technique for p in self.work)

    def holds(self, passage: Passage) -> bool:
        return any(p.id == passage.id for p in self.passages)


def groups_of(routine: Routine, craft: Craft) -> tuple[Group, ...]:
    """Return the line of `routine`, cut into groups, in order."""
    line, found, i = routine.line, [], 0
    while i < len(line):
        past = _past_row(line, i) if line[i].role is Role.REFRAIN else _past_block(line, i, craft)
        a_side = past - i
        if line[i].role is not Role.REFRAIN:
            other = _past_block(line, past, craft) if past < len(line) else past
            if _are_pair(line[i:past], line[past:other]):
                past = other
        found.append(Group(passages=line[i:past], a_side=a_side))
        i = past
    return tuple(found)


def _past_row(line: tuple[Passage, ...], i: int) -> int:
    """Return the place after the return of the refrain that begins at `i`."""
    while i < len(line) and line[i].role is Role.REFRAIN:
        i += 1
    return i


def _past_block(line: tuple[Passage, ...], i: int, craft: Craft) -> int:
    """Return the place after the passage at `i`, or after the deep run there with its rest."""
    place, past = _place(line[i], craft), i + 1
    if not line[i].is_deep:
        return past
    while past < len(line) and line[past].is_deep and _place(line[past], craft) == place:
        past += 1
    while past < len(line) and line[past].role is Role.REST and _place(line[past], craft) == place:
        past += 1
    return past


def _place(passage: Passage, craft: Craft) -> tuple[str | None, Side]:
    """Return region and side; a technique that nobody knows is a region of its own."""
    id = passage.technique
    known = id is not None and craft.has_technique(id)
    return (craft.technique(id).region if known and id else id), passage.side


def _are_pair(one: tuple[Passage, ...], other: tuple[Passage, ...]) -> bool:
    """True where `other` does on the other side what `one` did."""

    def pattern(row: tuple[Passage, ...]) -> list[tuple[str | None, int, int]]:
        return [(p.technique, p.pressure, p.bars) for p in row]

    if not other or one[0].is_open or not one[0].side.is_one_sided:
        return False
    return other[0].side is one[0].side.other and pattern(one) == pattern(other)
