"""What it costs that one block follows another, worked with as few sums as it takes: endings that
cost alike before everything are one, and beginnings that cost alike after everything."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rondel.planner.table import Floats, Ints

_AT_ONCE = 120_000  # sums held at one time; more would not fit into the cache


@dataclass(frozen=True, slots=True)
class Alike:
    """Things in groups of those that are alike: `order` has group after group, each from its place
    in `starts` on; `group_of` is the group of each thing, `first` one thing of each group."""

    order: Ints
    starts: Ints
    group_of: Ints
    first: Ints

    def least(self, costs: Floats) -> Floats:
        """Return the least cost of each group. Shape (N, things) to (N, groups)."""
        return np.asarray(np.minimum.reduceat(costs[:, self.order], self.starts, axis=1))


def alike(groups: Ints) -> Alike:
    """Return things in groups, by the number of the group of each (at least one thing)."""
    order = np.argsort(groups, kind="stable")
    ranked = groups[order]
    is_new = np.append(True, ranked[1:] != ranked[:-1])
    starts = np.nonzero(is_new)[0]
    group_of = np.empty(len(groups), dtype=np.int64)
    group_of[order] = np.cumsum(is_new) - 1
    return Alike(order, starts, group_of, order[starts])


@dataclass(frozen=True, slots=True)
class Links:
    """Costs by group of endings and group of beginnings, both ways round."""

    costs: Floats
    ends: Alike
    begins: Alike

    def before(self, least: Floats) -> Floats:
        """Return the least of link and what follows, for each ending. Shape (N, beginnings) to
        (N, endings)."""
        return _joined(self.costs, self.begins.least(least))[:, self.ends.group_of]

    def after(self, least: Floats) -> Floats:
        """Return the least of what stands before and link, for each beginning. Shape (N, endings)
        to (N, beginnings)."""
        return _joined(np.ascontiguousarray(self.costs.T), self.ends.least(least))[
            :, self.begins.group_of
        ]


class Linking:
    """The links of one table of costs (E endings, C beginnings)."""

    def __init__(self, costs: Floats) -> None:
        self._costs = costs
        self._ends = _same_rows(costs)
        self._begins = _same_rows(costs.T)

    def part(self, ends: Ints, begins: Ints) -> Links:
        """Return the links of some endings and beginnings, at least one of each."""
        some, others = alike(self._ends[ends]), alike(self._begins[begins])
        costs = self._costs[np.ix_(ends[some.first], begins[others.first])]
        return Links(costs, some, others)


def _same_rows(costs: Floats) -> Ints:
    """Number the rows, equal ones alike, in the order in which they are met."""
    known: dict[bytes, int] = {}
    return np.array([known.setdefault(row.tobytes(), len(known)) for row in costs], dtype=np.int64)


def _joined(links: Floats, least: Floats) -> Floats:
    """Return for each row and ending the least of link and what follows. `links` is (E, C),
    `least` (N, C); the answer (N, E)."""
    found = np.empty((len(least), len(links)))
    some = max(1, _AT_ONCE // max(1, links.size))
    space = np.empty((min(some, len(least)), *links.shape))
    for i in range(0, len(least), some):
        part = least[i : i + some]
        sums = space[: len(part)]
        np.add(links[None], part[:, None], out=sums)
        np.min(sums, axis=2, out=found[i : i + some])
    return found
