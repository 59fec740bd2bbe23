"""What is told of each next best: that it would do as well, or what it would give and take.

One verdict is kept for each, whoever asks, so that two sentences about the same exchange never
contradict each other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from rondel.model.words import Role
from rondel.planner.alternatives import Alternatives, Instead, Kind
from rondel.planner.losses import AS_WELL, Losses

#: Parts of the score that make up for each other unseen. A loss in any other is a thing that a
#: teacher sees, and no gain elsewhere makes the exchange as good.
_MADE_UP_FOR = frozenset({"curve", "vary", "speed"})

_Key = tuple[object, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """`gain` and `loss` are clauses, as in "the palms would work twice running"; "" where there
    is nothing that is worth telling, or that can be put into words."""

    is_as_well: bool = False
    gain: str = ""
    loss: str = ""

    @property
    def clause(self) -> str:
        """Return what would be otherwise, in one clause."""
        return (
            f"{self.gain}, but {self.loss}" if self.gain and self.loss else self.gain or self.loss
        )


class Verdicts:
    """The verdicts on the alternatives of one routine, whose rows are judged once."""

    def __init__(self, alternatives: Alternatives) -> None:
        self._all = alternatives
        self._losses = Losses(craft=alternatives.craft, material=alternatives.material)

    def of(self, instead: Instead, *, is_summed_up: bool = False) -> Verdict:
        """Return the verdict on `instead`, the same each time.

        Where it tells nothing, as another has the same loss, that is told when summing up.
        """
        found = self._in_places.get(_key(instead))
        tells = found is not None and (found.is_as_well or bool(found.clause))
        if found is not None and (tells or not is_summed_up):
            return found
        return self._judged(instead, set())

    @cached_property
    def _in_places(self) -> dict[_Key, Verdict]:
        """The verdicts on what could stand in each place; of peak and refrain the weightiest loss
        is told, of others the weightiest that was not told of another."""
        techniques, refrain = self._all.techniques, self._all.refrain
        peak = next((n for n, r in enumerate(self._all.rows) if r[0].role is Role.PEAK), None)
        first = [i for i in (None if peak is None else techniques[peak], refrain) if i is not None]
        found: dict[_Key, Verdict] = {}
        told: set[str] = set()
        for instead in first:
            found[_key(instead)] = self._judged(instead, set())
            told.add(found[_key(instead)].loss)
        for other in techniques:
            if other is not None and _key(other) not in found:
                found[_key(other)] = self._judged(other, told)
                told.add(found[_key(other)].loss)
        return found

    def _judged(self, instead: Instead, told: set[str]) -> Verdict:
        if instead.cost >= AS_WELL:
            return Verdict(loss=_untold(self._losses.clauses(instead), told))
        minded = self._all.newly_minded(instead)
        gain = self._losses.gain(instead)
        if not minded and not gain and not self._is_seen(instead):
            return Verdict(is_as_well=True)
        # What is wished for and would be had is told with what the checker would then mind.
        clauses = self._losses.clauses(instead, minded)
        return Verdict(gain=gain, loss=_untold(clauses, set() if gain else told))

    def _is_seen(self, instead: Instead) -> bool:
        """True where something would be lost that shows."""
        return instead.kind is Kind.TECHNIQUE and any(
            more >= AS_WELL and part not in _MADE_UP_FOR for part, more in instead.losses
        )


def _untold(clauses: Iterable[str], told: set[str]) -> str:
    return next((clause for clause in clauses if clause not in told), "")


def _key(instead: Instead) -> _Key:
    """Return what tells `instead` from others of the same routine."""
    where = tuple(p.id for p in instead.row)
    return (instead.kind, where, *((p.technique, p.side, p.pressure) for p in instead.other))
