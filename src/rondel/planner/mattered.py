"""The choices of a plan that a teacher would argue about: its peak, its home, the places that get
most and those that get nothing; then whatever else has the dearest next best."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import PRESSURE_SAYS, Role
from rondel.planner.alternatives import Alternatives, Instead, Kind
from rondel.planner.losses import AS_WELL, Losses, after_name
from rondel.planner.naming import listed, on, thing
from rondel.planner.verdicts import Verdicts

TOLD = 3
_LEFT_OUT_TOLD = 3  # places by name
_ALONE = 1000.0  # the weight of a choice beside which nothing else was possible


@dataclass(frozen=True, slots=True)
class _Choice:
    """A sentence, what the next best would cost, and the passages that it is about."""

    weight: float
    says: str
    about: frozenset[str]
    lost: str = ""


def what_mattered(
    alternatives: Alternatives, count: int = TOLD, verdicts: Verdicts | None = None
) -> tuple[str, ...]:
    """Return up to `count` sentences, the weightiest first.

    Peak, home and places come first of all, as these make the form. Every other choice counts that
    has a lawful next best which is clearly worse; of these no two speak of the same passages or
    lose the same thing. `verdicts` on the alternatives, where they are at hand, save time.
    """
    teller = _Teller(alternatives, verdicts or Verdicts(alternatives))
    form = [c for c in (teller.peak(), teller.places(), teller.home()) if c is not None][:count]
    told = sorted(form, key=lambda c: -c.weight)
    for choice in sorted(teller.others(), key=lambda c: -c.weight):
        is_again = any(choice.about & c.about or choice.lost == c.lost for c in told)
        if len(told) < count and not is_again:
            told.append(choice)
    return tuple(c.says for c in told)


class _Teller:
    """Tells of the choices of one routine."""

    def __init__(self, alternatives: Alternatives, verdicts: Verdicts) -> None:
        self._all, self._routine = alternatives, alternatives.routine
        self._losses = Losses(craft=alternatives.craft, material=alternatives.material)
        self._verdicts = verdicts

    def peak(self) -> _Choice | None:
        """Tell where the peak is and what it is made of, and of its next best."""
        found = ((n, r) for n, r in enumerate(self._all.rows) if r[0].role is Role.PEAK)
        n, row = next(found, (0, ()))
        if not row:
            return None
        names = self._losses.names(row[:1], self._routine)
        at = as_minutes(self._routine.start_seconds(row[0]))
        head = f"The peak is {names} {self._on(row[0])} at {at}, {PRESSURE_SAYS[row[0].pressure]}"
        about = frozenset(p.id for p in row)
        if row[0].kept:
            return _Choice(_ALONE, f"{head}: you insist on it.", about)
        instead = self._all.techniques[n]
        if instead is None:
            return _Choice(_ALONE, self._nothing_else(head, row), about)
        return self._against(head, instead, about)

    def home(self) -> _Choice | None:
        """Tell of the refrain, how much of the time it takes, and the next best one."""
        returns = self._routine.refrains
        if not returns:
            return None
        names = self._losses.names(returns[0], self._routine)
        bars = sum(p.bars for row in returns for p in row)
        percent = round(100 * bars / self._routine.bars)
        often = f"{len(returns)} times, " if len(returns) > 1 else ""
        head = f"The refrain is {names}, {often}{percent} percent of the time"
        about = frozenset(p.id for row in returns for p in row)
        instead = self._all.refrain
        if instead is None:
            says = f"{head}: of those looked at, no other of its length fits in all its places."
            return _Choice(0.0, says, about)
        return self._against(head, instead, about)

    def places(self) -> _Choice | None:
        """Tell which regions have most of the work, which have none, and what it would cost to
        bring one of these in."""
        shares = {r: s for r, s in self._losses.shares(self._routine).items() if s > 0}
        if not shares:
            return None
        told = [
            f"{self._named(region)} with {round(100 * share)}"
            for region, share in sorted(shares.items(), key=lambda one: -one[1])
        ]
        told[0] = f"{told[0]} percent of the work"
        is_one = len(told) == 1
        regions = f"{listed(told)}{self._as_asked()}"
        says = f"The main region is {regions}" if is_one else f"The main regions are {regions}"
        head = f"{says}{self._left_out()}"
        instead = self._all.newcomer
        if instead is None:
            return _Choice(0.0, f"{head}.", frozenset())
        bringing = (
            f"{self._losses.other_names(instead)} {self._on(instead.other[0])} at "
            f"{as_minutes(self._routine.start_seconds(instead.row[0]))}"
        )
        verdict = self._verdicts.of(instead, is_summed_up=True)
        if verdict.is_as_well:
            return _Choice(0.0, f"{head}; {bringing} would do as well.", frozenset())
        end = f"; with {bringing}, {verdict.clause}" if verdict.clause else ""
        return _Choice(max(0.0, instead.cost), f"{head}{end}.", frozenset(), verdict.loss)

    def _as_asked(self) -> str:
        """Return whether main regions that were asked for have as much as they should have; nothing
        where there is no work on one of them."""
        if self._routine.brief is None or not self._routine.brief.main_regions:
            return ""
        shares, wished = self._losses.shares(self._routine).values(), self._losses.wished_share
        if sum(shares) >= wished - 1e-9:
            return ", as you asked" if all(shares) else ""
        return f", less than the {round(100 * wished)} percent wished for the main regions"

    def others(self) -> Iterator[_Choice]:
        """Yield every other choice that has a next best which is clearly worse."""
        for instead in (*self._all.techniques, *dict.fromkeys(self._all.orders)):
            if instead is None or instead.cost < AS_WELL:
                continue
            clause = self._verdicts.of(instead, is_summed_up=True).loss
            if not clause:
                continue
            about = frozenset(p.id for p in (*instead.row, *self._moved(instead)))
            yield _Choice(instead.cost, self._sentence(instead, clause), about, clause)

    # --- words ------------------------------------------------------------------------------

    def _against(self, head: str, instead: Instead, about: frozenset[str]) -> _Choice:
        """End a sentence that begins with `head` with the next best."""
        names, verdict = (
            self._losses.other_names(instead),
            self._verdicts.of(instead, is_summed_up=True),
        )
        if verdict.is_as_well:
            as_well = self._losses.as_well(instead)
            return _Choice(0.0, f"{head}{': ' if as_well else ''}{as_well}.", about)
        end, clause = "", after_name(verdict.clause, names)
        is_home = instead.kind is Kind.REFRAIN
        swapped = self._losses.swapped(instead) if is_home else None
        if clause and swapped is not None:
            new, gone = swapped
            end = f": with {new} in place of {gone}, {clause}"
        elif clause:
            other = self._losses.as_refrain(instead) if is_home else names
            end = f": with {other} instead, {clause}"
        return _Choice(max(0.0, instead.cost), f"{head}{end}.", about, verdict.loss)

    def _nothing_else(self, head: str, row: tuple[Passage, ...]) -> str:
        """End a sentence that begins with `head` where nothing else was found for `row`."""
        if not self._all.may_be_chosen(row):
            return f"{head}."  # a part of it is insisted on: nothing else was looked for
        if row[0].is_deep:
            return (
                f"{head}: with all else left as it is, nothing else that the brief allows goes so "
                "deep there."
            )
        return (
            f"{head}: with all else left as it is, nothing else that the brief allows fits there."
        )

    def _left_out(self) -> str:
        """Return "; left out are ..." with the places that have nothing, the first few by name."""
        regions = self._all.left_out
        if not regions:
            return ""
        names = [self._named(r) for r in regions[:_LEFT_OUT_TOLD]]
        more = len(regions) - len(names)
        if more:
            names.append("1 other place" if more == 1 else f"{more} other places")
        said = listed(names)
        return f"; {said} is left out" if len(regions) == 1 else f"; {said} are left out"

    def _sentence(self, instead: Instead, clause: str) -> str:
        names = self._losses.names(instead.row, instead.now)
        if instead.kind is Kind.ORDER:
            other = self._losses.names(instead.other, instead.now)
            return f"{names} before {other}: the other way round, {clause}."
        other = self._losses.other_names(instead)
        at = as_minutes(instead.now.start_seconds(instead.row[0]))
        return f"{names} at {at}: with {other} instead, {after_name(clause, other)}."

    def _moved(self, instead: Instead) -> tuple[Passage, ...]:
        return instead.other if instead.kind is Kind.ORDER else ()

    def _on(self, passage: Passage) -> str:
        return on(self._all.craft.region(self._region(passage)))

    def _region(self, passage: Passage) -> str:
        return self._all.craft.technique(passage.technique or "").region

    def _named(self, region: str) -> str:
        return thing(self._all.craft.region(region))
