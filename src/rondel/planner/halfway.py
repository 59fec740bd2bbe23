"""Half-made plans as columns of numbers, bar after bar, each with the way back to its beginning."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from rondel.planner.table import Ints

#: Columns by name; all of one length, one row a plan.
Columns = dict[str, Any]

_OWN = ("sign", "parent", "action")  # columns that no later plan builds on


def taken(columns: Columns, which: Any) -> Columns:
    """Return some rows of every column."""
    return {name: column[which] for name, column in columns.items()}


def joined(parts: list[Columns]) -> Columns:
    """Return the rows of all `parts`, one after the other."""
    return {name: np.concatenate([p[name] for p in parts]) for name in parts[0]}


class Past:
    """All half-made plans that went on, numbered from 0 in the order in which they were made."""

    def __init__(self) -> None:
        self._buckets: list[Columns] = []
        self._firsts = np.zeros(0, dtype=np.int64)
        self._parents = Long(np.int64)
        self._starts = Long(np.int64)
        self.count = 0

    def add(self, columns: Columns, starts: Ints) -> Ints:
        """Remember plans, whose last blocks begin at the bars `starts`; return their numbers."""
        self._buckets.append(columns)
        self._firsts = np.append(self._firsts, self.count)
        self._parents.extend(columns["parent"])
        self._starts.extend(starts)
        numbers = self.count + np.arange(len(columns["row"]))
        self.count += len(numbers)
        return numbers

    def before(self, numbers: Ints, bar: int) -> Ints:
        """Return, for each plan, the last on its way back whose last block begins before `bar`; -1
        where there is none."""
        parents, starts = self._parents.values, self._starts.values
        found = numbers.copy()
        which = np.arange(len(found))
        while len(which):
            here = found[which]
            which = which[(here >= 0) & (starts[here] >= bar)]
            found[which] = parents[found[which]]
        return found

    def column(self, name: str, numbers: Ints) -> Any:
        """Return one column of plans by number; zeros for -1."""
        sample = self._buckets[0][name]
        found = np.zeros((len(numbers), *sample.shape[1:]), dtype=sample.dtype)
        which = np.searchsorted(self._firsts, numbers, side="right") - 1
        for bucket in np.unique(which[numbers >= 0]).tolist():
            mine = which == bucket
            found[mine] = self._buckets[bucket][name][numbers[mine] - self._firsts[bucket]]
        return found

    def gathered(self, numbers: Ints) -> Columns:
        """Return the columns of plans by number."""
        which = np.searchsorted(self._firsts, numbers, side="right") - 1
        buckets = []
        for bucket in np.unique(which).tolist():
            mine = np.nonzero(which == bucket)[0]
            buckets.append((self._buckets[bucket], mine, numbers[mine] - self._firsts[bucket]))
        found: Columns = {}
        for name, sample in self._buckets[0].items():
            if name in _OWN:
                continue
            column = np.empty((len(numbers), *sample.shape[1:]), dtype=sample.dtype)
            for columns, mine, at in buckets:
                column[mine] = columns[name][at]
            found[name] = column
        return found

    def back(self, number: int) -> Iterator[tuple[int, int]]:
        """Yield (action, row) of a plan, the last first."""
        while number >= 0:
            bucket = int(np.searchsorted(self._firsts, number, side="right")) - 1
            columns, at = self._buckets[bucket], number - int(self._firsts[bucket])
            yield int(columns["action"][at]), int(columns["row"][at])
            number = int(columns["parent"][at])


class Long:
    """Numbers, to which more are added at the end."""

    def __init__(self, kind: type[np.generic]) -> None:
        self._space: Any = np.zeros(1024, dtype=kind)
        self._count = 0

    @property
    def values(self) -> Any:
        return self._space[: self._count]

    def extend(self, more: Any) -> None:
        while self._count + len(more) > len(self._space):
            self._space = np.concatenate([self._space, np.zeros_like(self._space)])
        self._space[self._count : self._count + len(more)] = more
        self._count += len(more)
