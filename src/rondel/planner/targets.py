"""The routine as a teacher asks for it, bar by bar, before anything else has given way.

It may break any rule: it only tells the planner what to stay near to, and afterwards how many bars
had to change besides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import groupby

from rondel.model.routine import Passage, Routine

#: Stands for the technique of bars that may become anything. No technique has such an id.
ANYTHING = ""

#: What is done in a bar: technique, side and pressure.
Done = tuple[str | None, str, int]


def done_in(routine: Routine) -> tuple[Done, ...]:
    """Return what is done in every bar of the line."""
    return tuple(_done(p) for p in routine.line for _ in range(p.bars))


def _done(passage: Passage) -> Done:
    return passage.technique, passage.side, passage.pressure


class Target:
    """Bars that start as those of a routine and are laid over with what is asked for."""

    def __init__(self, routine: Routine) -> None:
        self._old = routine
        self._cells = [p for p in routine.line for _ in range(p.bars)]

    def vacate(self, start: int, end: int) -> None:
        """Let the bars from `start` up to `end` become anything."""
        if start < end:
            empty = replace(self._old.line[0], technique=ANYTHING, start_bar=start)
            self._cells[start:end] = [empty] * (min(end, len(self._cells)) - start)

    def lay(self, start: int, row: Iterable[tuple[Passage, int]]) -> None:
        """Put passages of so many bars one after the other from `start` on, up to the end."""
        for passage, bars in row:
            laid = replace(passage, start_bar=start, bars=bars)
            past = min(start + bars, len(self._cells))
            if start < past:
                self._cells[start:past] = [laid] * (past - start)
            start = past

    def routine(self) -> Routine:
        """Return the bars as a routine, to stay near to."""
        passages: list[Passage] = []
        for _, run in groupby(enumerate(self._cells), key=lambda cell: id(cell[1])):
            cells = list(run)
            start, passage = cells[0]
            passages.append(replace(passage, start_bar=start, bars=len(cells)))
        return replace(self._old, passages=tuple(passages), cues=())


def asked_bars(old: Routine, target: Routine) -> int:
    """Return how many bars the request itself takes or sets free."""
    return sum(a != b for a, b in zip(done_in(old), done_in(target), strict=False))


def changed_bars(target: Routine, new: Routine) -> int:
    """Return how many bars of `new` differ from what was there, besides those asked for."""
    pairs = zip(done_in(target), done_in(new), strict=False)
    return sum(a != b and a[0] != ANYTHING for a, b in pairs)
