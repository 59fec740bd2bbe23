"""Which of several is liked better, from preferences between two at a time.

The model of R. A. Bradley and M. E. Terry (1952, Biometrika 39:324-345): the chance that i is
preferred to j is s_i / (s_i + s_j). Strengths are found by the steps of D. R. Hunter (2004, Annals
of Statistics 32:384-406), their spread from the information of the log strengths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

#: `wins[i][j]`: how often i was preferred to j.
Wins = Sequence[Sequence[float]]
#: Half a preference each way for any two that met: keeps a name that always won from counting as
#: endlessly better after three votes (the usual correction of one half; Haldane 1956, Annals of
#: Human Genetics 20:309-311, from memory).
HALF = 0.5
_STEPS, _CLOSE = 100_000, 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class Strengths:
    """Log strengths whose mean is 0, and their covariance; in the order of the rows given."""

    log_strength: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]

    def spread(self, i: int) -> float:
        """Return the standard error of i's log strength, against the mean of all."""
        return sqrt(max(0.0, self.covariance[i][i]))

    def lead(self, i: int, j: int) -> tuple[float, float]:
        """Return how far i is ahead of j in log strength, and the standard error of that."""
        c = self.covariance
        variance = c[i][i] + c[j][j] - 2 * c[i][j]
        return self.log_strength[i] - self.log_strength[j], sqrt(max(0.0, variance))


def groups(wins: Wins) -> tuple[tuple[int, ...], ...]:
    """Return the rows in groups: within one, each met each, if only by way of others."""
    left, found = list(range(len(wins))), []
    while left:
        group, edge = [], [left.pop(0)]
        while edge:
            i = edge.pop()
            group.append(i)
            met = [j for j in left if wins[i][j] + wins[j][i] > 0]
            edge += met
            left = [j for j in left if j not in met]
        found.append(tuple(sorted(group)))
    return tuple(found)


def strengths(wins: Wins, *, prior: float = HALF) -> Strengths:
    """Return the likeliest strengths, with `prior` preferences added each way to all that met.

    ValueError where the rows fall into groups that never met, and, without a prior, where one group
    was never preferred to the rest (Ford 1957): then no strengths are likeliest.
    """
    size = len(wins)
    if len(groups(wins)) != 1:
        raise ValueError("these never met, not even by way of others")
    won = [[_won(wins, i, j, prior) for j in range(size)] for i in range(size)]
    if not all(_reaches_all(won, i) for i in range(size)):
        raise ValueError("one of these was never preferred, or always")
    met = [[won[i][j] + won[j][i] for j in range(size)] for i in range(size)]
    found = _likeliest(won, met)
    middle = sum(map(log, found)) / size
    logs = tuple(log(s) - middle for s in found)
    return Strengths(log_strength=logs, covariance=_covariance(found, met))


def chance(lead: float) -> float:
    """Return the chance to be preferred, 0 to 1, of one ahead by `lead` in log strength.

    >>> chance(0.0)
    0.5
    """
    return 1 / (1 + exp(-lead))


def _won(wins: Wins, i: int, j: int, prior: float) -> float:
    has_met = i != j and wins[i][j] + wins[j][i] > 0
    return wins[i][j] + prior if has_met else 0.0


def _reaches_all(won: Wins, start: int) -> bool:
    seen, edge = {start}, [start]
    while edge:
        i = edge.pop()
        new = [j for j in range(len(won)) if won[i][j] > 0 and j not in seen]
        seen.update(new)
        edge += new
    return len(seen) == len(won)


def _likeliest(won: Wins, met: Wins) -> list[float]:
    """Return the strengths; each step sets one to its wins by the sum over what it met."""
    size = len(won)
    now = [1.0] * size
    for _ in range(_STEPS):
        was = list(now)
        for i in range(size):
            meets = sum(met[i][j] / (now[i] + now[j]) for j in range(size) if j != i)
            now[i] = sum(won[i]) / meets if meets else 1.0
        scale = exp(sum(map(log, now)) / size)
        now = [s / scale for s in now]
        if max(abs(log(a / b)) for a, b in zip(now, was, strict=True)) < _CLOSE:
            break
    return now


def _covariance(found: Sequence[float], met: Wins) -> tuple[tuple[float, ...], ...]:
    """Return the inverse of the information among log strengths whose sum is held at 0.

    The information is blind to a shift of all, so that direction is filled in with 1 before the
    inverse is taken, and taken out again after.
    """
    size = len(found)
    share = 1 / size
    info = [[share] * size for _ in range(size)]
    for i in range(size):
        for j in range(size):
            if i != j:
                part = met[i][j] * found[i] * found[j] / (found[i] + found[j]) ** 2
                info[i][i] += part
                info[i][j] -= part
    return tuple(tuple(v - share for v in row) for row in _inverse(info))


def _inverse(matrix: list[list[float]]) -> list[list[float]]:
    """Return the inverse, by elimination with the largest of each column first."""
    size = len(matrix)
    rows = [[*row, *(float(i == j) for j in range(size))] for i, row in enumerate(matrix)]
    for c in range(size):
        best = max(range(c, size), key=lambda r: abs(rows[r][c]))
        rows[c], rows[best] = rows[best], rows[c]
        head = rows[c][c]
        rows[c] = [v / head for v in rows[c]]
        for r in range(size):
            if r != c and rows[r][c]:
                by = rows[r][c]
                rows[r] = [v - by * w for v, w in zip(rows[r], rows[c], strict=True)]
    return [row[size:] for row in rows]
