"""What the faults are made of: a sound routine, a die, and ways to change one thing in it.

Nothing here asks the checker anything: where a fault needs arithmetic, it is worked out from the
routine and from the statements of the rules.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeVar

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Role, Side

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Sound:
    """A routine in which nothing is wrong, and the die that picks the place of the fault."""

    routine: Routine
    craft: Craft
    dice: random.Random

    @property
    def brief(self) -> Brief:
        assert self.routine.brief is not None
        return self.routine.brief

    @property
    def line(self) -> tuple[Passage, ...]:
        return self.routine.line

    @property
    def scale(self) -> float:
        return float(self.brief.scale)

    @property
    def total(self) -> float:
        """The seconds of the whole routine."""
        return self.routine.clock.total_seconds

    @property
    def bar_seconds(self) -> float:
        return self.routine.clock.bar_seconds()

    def pick(self, some: Iterable[T]) -> T | None:
        """Return one of `some`, or None where there is none."""
        listed = list(some)
        return self.dice.choice(listed) if listed else None

    def start(self, passage: Passage) -> float:
        return self.routine.start_seconds(passage)

    def end(self, passage: Passage) -> float:
        return self.routine.end_seconds(passage)

    def technique(self, passage: Passage) -> Technique:
        assert passage.technique is not None
        return self.craft.technique(passage.technique)

    def worked(self) -> list[Passage]:
        """Return the passages that are not open."""
        return [p for p in self.line if not p.is_open]

    def ordinary(self) -> list[Passage]:
        """Return the work outside refrain and peak, below deep."""
        return [p for p in self.line if p.role is Role.WORK and not p.is_open and not p.is_deep]

    def counted(self, passage: Passage) -> int:
        """Return the counted pressure: an open passage 2, a still hold 1."""
        if passage.is_open:
            return 2
        is_still = self.technique(passage).family.is_held and passage.pressure == 0
        return 1 if is_still else passage.pressure

    def touched(self, technique: Technique) -> frozenset[str]:
        """Return the region of `technique` and those that its strokes pass over."""
        return frozenset({technique.region, *self.craft.region(technique.region).covers})

    def techniques(self, wanted: Callable[[Technique], bool]) -> list[Technique]:
        return [t for t in self.craft.techniques if not t.helps_turn and wanted(t)]

    def peak_row(self) -> tuple[Passage, ...]:
        """Return the peak with the rests between and directly after; () where there is none."""
        places = [i for i, p in enumerate(self.line) if p.role is Role.PEAK]
        if not places:
            return ()
        past = places[-1] + 1
        while past < len(self.line) and self.line[past].role is Role.REST:
            past += 1
        return self.line[places[0] : past]

    def pairs(self) -> list[tuple[Passage, Passage]]:
        """Return neighbours, below deep, of which the second repeats the first on the other
        side."""
        found: list[tuple[Passage, Passage]] = []
        for a, b in pairwise(self.line):
            is_pair = (
                a.side.is_one_sided
                and b.side is a.side.other
                and not a.is_open
                and not a.is_deep
                and (a.technique, a.pressure, a.bars, a.role)
                == (b.technique, b.pressure, b.bars, b.role)
            )
            if is_pair and a.role is Role.WORK and not (found and found[-1][1] is a):
                found.append((a, b))
        return found

    def rounds(self) -> list[tuple[Passage, ...]]:
        """Return ordinary work with the two sides of a pair together."""
        second = {b.id: a for a, b in self.pairs()}
        first = {a.id: b for a, b in self.pairs()}
        return [
            (p, first[p.id]) if p.id in first else (p,)
            for p in self.ordinary()
            if p.id not in second
        ]


Put = Callable[[Sound], Routine | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One kind of fault: `put` returns the routine with it, or None where it has no place."""

    rule: str
    name: str
    put: Put


class Kinds:
    """A list of kinds of fault that functions are entered in, as `@kinds.of(rule, name)`."""

    def __init__(self) -> None:
        self.all: list[Fault] = []

    def of(self, rule: str, name: str) -> Callable[[Put], Put]:
        def enter(put: Put) -> Put:
            self.all.append(Fault(rule=rule, name=name, put=put))
            return put

        return enter


def changed(routine: Routine, passages: Iterable[Passage], **what: object) -> Routine:
    """Return `routine` with the same change made to every one of `passages`."""
    ids = {p.id for p in passages}
    return replace(
        routine,
        passages=tuple(
            replace(p, **what) if p.id in ids else p  # type: ignore[arg-type]
            for p in routine.passages
        ),
    )


def swapped(sound: Sound, passages: Iterable[Passage], technique: Technique) -> Routine:
    """Return the routine with `technique` done instead, on sides that it is done on."""
    routine = sound.routine
    for passage in passages:
        side = passage.side
        if technique.lateral and not side.is_one_sided:
            side = Side.LEFT
        if not technique.lateral and side.is_one_sided:
            side = Side.BOTH
        routine = changed(routine, [passage], technique=technique.id, side=side)
    return routine


def laid(routine: Routine, passages: Sequence[Passage]) -> Routine:
    """Return `routine` with `passages` one after the other from the first bar on."""
    found, at = [], 0
    for passage in passages:
        found.append(replace(passage, start_bar=at))
        at += passage.bars
    return replace(routine, passages=tuple(found))


def moved_bars(sound: Sound, giver: Passage, taker: Passage, bars: int) -> Routine:
    """Return the routine with `bars` bars of `giver` given to `taker`."""
    sizes = {giver.id: giver.bars - bars, taker.id: taker.bars + bars}
    return laid(sound.routine, [replace(p, bars=sizes.get(p.id, p.bars)) for p in sound.line])


def swallowing(sound: Sound, passage: Passage, bars: int) -> Routine | None:
    """Return the routine with `passage` lasting `bars`, over what followed; None without room."""
    end = passage.start_bar + bars
    if bars <= passage.bars or end > sound.routine.bars:
        return None
    found = []
    for p in sound.line:
        if p.id == passage.id:
            found.append(replace(p, bars=bars))
        elif p.start_bar < passage.start_bar or p.start_bar >= end:
            found.append(p)
        elif p.end_bar > end:
            found.append(replace(p, start_bar=end, bars=p.end_bar - end))
    return replace(sound.routine, passages=tuple(found))


def with_brief(routine: Routine, **what: object) -> Routine:
    """Return `routine` held against a brief that wishes for something else."""
    assert routine.brief is not None
    return replace(routine, brief=replace(routine.brief, **what))  # type: ignore[arg-type]
