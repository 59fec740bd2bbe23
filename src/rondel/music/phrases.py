"""Phrases: how the bars of a passage are breathed, and where each phrase comes to rest."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby, pairwise

from rondel.model.routine import Passage, Routine
from rondel.model.words import Role

#: Bars of an ordinary phrase; the last of a passage takes what is left over (3 to 6).
PHRASE_BARS = 4


class Ending(StrEnum):
    """How a phrase ends: on a chord that asks for more, or on the key's own."""

    OPEN = "open"
    CLOSED = "closed"


class Unit(StrEnum):
    """What of the refrain's tune a phrase holds."""

    NONE = "none"
    WHOLE = "whole"
    ECHO = "echo"


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrase:
    """Some bars that belong together. `place` counts the phrases of its `row` of passages.

    `key` names the phrase for whoever chooses something for it: it tells nothing of where in the
    routine the phrase stands, so that what is chosen stays when something is changed elsewhere.
    """

    start_bar: int
    bars: int
    row: tuple[Passage, ...]
    place: int
    ending: Ending
    unit: Unit = Unit.NONE

    @property
    def end_bar(self) -> int:
        return self.start_bar + self.bars

    @property
    def key(self) -> tuple[object, ...]:
        first = self.row[0]
        name = "home" if first.role is Role.REFRAIN else first.technique or first.id
        return name, self.place

    @property
    def is_first(self) -> bool:
        return self.place == 0

    @property
    def is_last(self) -> bool:
        return self.end_bar == self.row[-1].end_bar

    def share_at(self, bar: float) -> float:
        """Return how much of the phrase has passed at `bar`, 0 to 1."""
        return min(1.0, max(0.0, (bar - self.start_bar) / self.bars))


def lengths_of(bars: int) -> tuple[int, ...]:
    """Return the phrases that `bars` are breathed in.

    >>> lengths_of(9), lengths_of(14), lengths_of(15), lengths_of(6)
    ((4, 5), (4, 4, 6), (4, 4, 4, 3), (6,))
    """
    count = max(1, (bars + 1) // PHRASE_BARS)
    return (*[PHRASE_BARS] * (count - 1), bars - PHRASE_BARS * (count - 1))


def rows_of(routine: Routine) -> tuple[tuple[Passage, ...], ...]:
    """Return the passages of the line; those of one return of the refrain are one row."""
    rows: list[tuple[Passage, ...]] = []
    for is_home, group in groupby(routine.line, key=lambda p: p.role is Role.REFRAIN):
        passages = tuple(group)
        rows += [passages] if is_home else [(p,) for p in passages]
    return tuple(rows)


def _ending(before: tuple[Passage, ...] | None, row: tuple[Passage, ...], is_final: bool) -> Ending:
    """Return how the last phrase of `row` ends.

    What rests, what is worked on the second side, and the routine itself come to an end; all else
    leads on.
    """
    first = row[0]
    is_second_side = before is not None and first.technique == before[0].technique
    is_closed = is_final or first.role in (Role.REST, Role.REFRAIN)
    return Ending.CLOSED if is_closed or is_second_side else Ending.OPEN


def _home(row: tuple[Passage, ...]) -> list[tuple[int, Ending, Unit]]:
    """Return the phrases of a return: the tune, its echo, the tune, and a bar or two to breathe."""
    bars = row[-1].end_bar - row[0].start_bar
    whole = (PHRASE_BARS, Ending.CLOSED, Unit.WHOLE)
    echo = (PHRASE_BARS, Ending.OPEN, Unit.ECHO)
    found = [echo if count % 2 else whole for count in range(bars // PHRASE_BARS)]
    rest = bars % PHRASE_BARS
    if rest:
        unit = Unit.NONE if found else Unit.WHOLE  # so much of the tune as the bars hold
        found.append((rest, Ending.CLOSED, unit))
    return found


def phrases_of(routine: Routine) -> tuple[Phrase, ...]:
    """Return the phrases of the whole routine, without a gap; they begin where passages begin."""
    rows = rows_of(routine)
    found: list[Phrase] = []
    for before, row, after in zip((None, *rows), rows, (*rows[1:], None), strict=False):
        at = row[0].start_bar
        if row[0].role is Role.REFRAIN:
            parts = _home(row)
        else:
            leads_home = after is not None and after[0].role is Role.REFRAIN
            last = Ending.OPEN if leads_home else _ending(before, row, after is None)
            bars = lengths_of(row[-1].end_bar - at)
            ends = [Ending.OPEN] * (len(bars) - 1) + [last]
            parts = [(n, end, Unit.NONE) for n, end in zip(bars, ends, strict=True)]
        for place, (bars_here, ending, unit) in enumerate(parts):
            found.append(
                Phrase(start_bar=at, bars=bars_here, row=row, place=place, ending=ending, unit=unit)
            )
            at += bars_here
    return tuple(found)


def split(bars: int, into: int) -> list[int]:
    """Return `into` lengths that fill `bars`, the longer ones first: harmony quickens to its end.

    >>> split(9, 4), split(4, 3)
    ([3, 2, 2, 2], [2, 1, 1])
    """
    edges = [i * bars // into for i in range(into + 1)]
    return sorted((b - a for a, b in pairwise(edges)), reverse=True)
