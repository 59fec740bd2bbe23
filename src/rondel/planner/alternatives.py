"""What could stand instead: another technique, another refrain, another order.

Each is a whole routine that differs in one choice, has been scored like any other, and breaks no
rule that must hold; so what a choice is worth can be said from the difference.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from itertools import pairwise

from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Family, Layer, Role
from rondel.planner.blocks import Part
from rondel.planner.constraints import curve, opening, rest, rise, sides, strokes
from rondel.planner.curves import CLOSENESS_COUNTS, ENERGY, PRESSURE, value_at
from rondel.planner.frame import Frame, frame_of
from rondel.planner.material import Material, material_of
from rondel.planner.refrains import refrain_rows
from rondel.planner.score import own_blocks, score

#: True for a routine that breaks no rule that must hold.
IsLawful = Callable[[Routine], bool]

#: How often each rule is minded in a routine, by rule and bar.
Minded = Callable[[Routine], Counter[tuple[str, int]]]

Row = tuple[Passage, ...]

_REFRAINS_TRIED = 5
_RESTS_TRIED = 2
#: So many techniques are scored for one place, the most promising first; the others only if none
#: of these is lawful.
_SCORED = 4
LONGEST_HOLD_SECONDS = 64  # as in ordinary work; common practice, no source


class Kind(StrEnum):
    """What is chosen otherwise."""

    TECHNIQUE = "technique"
    REFRAIN = "refrain"
    ORDER = "order"


@dataclass(frozen=True, slots=True, kw_only=True)
class Instead:
    """Another routine, `then`, that differs from `now` in one choice.

    `row` are the passages chosen, as they stand; `other` what would stand there (for an order:
    the row with which it would change places). `losses` are (part of the score, how much more it
    costs), the greatest first.
    """

    kind: Kind
    row: Row
    other: Row
    now: Routine
    then: Routine
    losses: tuple[tuple[str, float], ...]

    @property
    def cost(self) -> float:
        """How much more the other routine costs; below 0 where it is the better one."""
        return sum(more for _, more in self.losses)


class Alternatives:
    """The next best of every choice of `routine`, each worked out when it is first asked for."""

    def __init__(self, routine: Routine, craft: Craft, is_lawful: IsLawful, minded: Minded) -> None:
        if routine.brief is None:
            raise ValueError("only a routine that carries its brief has alternatives")
        self.routine, self.craft, self.is_lawful = routine, craft, is_lawful
        self._minded = minded
        self.material: Material = material_of(routine.brief, craft)
        self.frame: Frame = frame_of(routine.brief, refrains=len(routine.refrains))
        self.rows: tuple[Row, ...] = tuple(own_blocks(routine))
        self._parts = dict(score(routine, craft, self.material).parts)
        self._place = {p.id: i for i, p in enumerate(routine.line)}

    @cached_property
    def techniques(self) -> tuple[Instead | None, ...]:
        """For every row of `rows` the next best technique in its place; None where no other fits.

        Bars and sides stay, and everything else is left. A row that the brief insists on has none.
        """
        return tuple(self._next_technique(row) for row in self.rows)

    def instead_of(self, passage: str, *, most: int) -> tuple[Instead, ...]:
        """Return up to `most` lawful ways to do another technique in the place of the row that
        holds `passage`, the cheapest of those that seem most fitting first."""
        row = next((row for row in self.rows if any(p.id == passage for p in row)), None)
        if row is None or any(p.kept or p.layer is not Layer.ONLY for p in row):
            return ()
        others = sorted(
            self._other_techniques(row, is_near=True), key=lambda other: self._promise(row, other)
        )
        weighed = sorted(
            (
                self._weighed(Kind.TECHNIQUE, row, o, _exchanged(self.routine, row, o))
                for o in others[: _SCORED * most]
            ),
            key=lambda instead: instead.cost,
        )
        found: dict[str | None, Instead] = {}
        for instead in weighed:
            name = instead.other[0].technique
            if len(found) < most and name not in found and self.is_lawful(instead.then):
                found[name] = instead
        return tuple(found.values())

    def may_be_chosen(self, row: Row) -> bool:
        """True where another technique was looked for: not of what is insisted on, or of bars in
        which two layers are played."""
        return not any(p.kept or p.layer is not Layer.ONLY or p.technique is None for p in row)

    def newly_minded(self, instead: Instead) -> tuple[str, ...]:
        """Return the rules that the checker minds in a bar with `instead`, and not without: what
        the score weighs against a gain elsewhere would be met there all the same."""
        new = self._minded(instead.then) - self._minded_now
        return tuple(dict.fromkeys(rule for rule, _ in new))

    @cached_property
    def _minded_now(self) -> Counter[tuple[str, int]]:
        return self._minded(self.routine)

    @cached_property
    def orders(self) -> tuple[Instead | None, ...]:
        """For every row the cheaper change of places with the row before or after it, or None."""
        swaps = [self._swap(a, b) for a, b in pairwise(self.rows)]
        beside = zip((None, *swaps), (*swaps, None), strict=True) if self.rows else ()
        found = []
        for before, after in beside:
            both = [s for s in (before, after) if s is not None]
            found.append(min(both, key=lambda s: s.cost, default=None))
        return tuple(found)

    @cached_property
    def refrain(self) -> Instead | None:
        """The next best refrain of the same length, or None."""
        if not self.routine.refrains:
            return None
        return self._best(self._other_refrains())

    @cached_property
    def left_out(self) -> tuple[str, ...]:
        """Regions that could be worked as the receiver lies, and are not even passed over; first
        those for which the repertoire has most."""
        met: set[str] = set()
        for passage in self.routine.line:
            if passage.technique is not None:
                region = self._region(passage)
                met |= {region, *self.craft.region(region).covers}
        positions = {p.position for p in self.routine.line}
        counts: Counter[str] = Counter()
        for number in self.material.ordinary():
            technique = self.material.techniques[number]
            is_able = positions & set(technique.position) and self.material.pressures(number)
            if is_able and not technique.family.is_held and not technique.helps_turn:
                counts[technique.region] += 1
        whole = {r for r in counts if self.craft.region(r).covers}
        return tuple(r for r, _ in counts.most_common() if r not in met | whole)

    @cached_property
    def newcomer(self) -> Instead | None:
        """The next best in which a region that is left out is worked, in place of one row; or
        None."""
        wanted = set(self.left_out)
        found = [
            (self._promise(row, other), n, other)
            for n, row in enumerate(self.rows)
            if row[0].role is Role.WORK and not row[0].is_deep and not any(p.kept for p in row)
            for other in self._other_techniques(row, is_near=True)
            if self._region(other[0]) in wanted
        ]
        found.sort(key=lambda one: one[:2])
        return self._best(
            self._weighed(
                Kind.TECHNIQUE, self.rows[n], other, _exchanged(self.routine, self.rows[n], other)
            )
            for _, n, other in found[: 2 * _SCORED]
        )

    # --- weighing ---------------------------------------------------------------------------

    def _weighed(self, kind: Kind, row: Row, other: Row, passages: Iterable[Passage]) -> Instead:
        then = replace(self.routine, passages=tuple(passages))
        parts = dict(score(then, self.craft, self.material).parts)
        more = {part: cost - self._parts.get(part, 0.0) for part, cost in parts.items()}
        losses = sorted(more.items(), key=lambda part: -part[1])
        return Instead(
            kind=kind, row=row, other=other, now=self.routine, then=then, losses=tuple(losses)
        )

    def _best(self, found: Iterable[Instead]) -> Instead | None:
        """Return the cheapest that is lawful. Only as many are checked as need be."""
        in_order = sorted(found, key=lambda instead: instead.cost)
        return next((i for i in in_order if self.is_lawful(i.then)), None)

    def _best_row(self, row: Row, others: Iterable[Row]) -> Instead | None:
        """Return the cheapest of the most promising `others`, else the first lawful of the rest."""
        in_order = sorted(others, key=lambda other: self._promise(row, other))
        best = self._best(
            self._weighed(Kind.TECHNIQUE, row, o, _exchanged(self.routine, row, o))
            for o in in_order[:_SCORED]
        )
        if best is not None:
            return best
        for other in in_order[_SCORED:]:
            passages = _exchanged(self.routine, row, other)
            if self.is_lawful(replace(self.routine, passages=passages)):
                return self._weighed(Kind.TECHNIQUE, row, other, passages)
        return None

    def _promise(self, row: Row, other: Row) -> float:
        """Return about what `other` would cost in the place of `row`, seen from close by only."""
        assert self.routine.brief is not None
        intention = self.routine.brief.intention
        apart = 0.0
        for passage in other:
            share = (passage.start_bar + passage.bars / 2) / self.routine.bars
            technique = self._technique(passage)
            pressure = rise.counted(passage.pressure) - value_at(PRESSURE[intention], share)
            energy = float(technique.energy) - value_at(ENERGY[intention], share)
            distant = CLOSENESS_COUNTS[intention] * (1 - float(technique.closeness))
            squares = curve.PRESSURE_COUNTS * pressure**2 + curve.ENERGY_COUNTS * energy**2
            apart += self.frame.minutes_of(passage.bars) * (squares + distant)
        technique, at = self._technique(other[0]), self.rows.index(row)
        beside = [self._technique(r[0]) for r in self.rows[max(0, at - 1) : at + 2] if r is not row]
        alike = sum(t.contact is technique.contact for t in beside)
        alike += sum(t.family is technique.family for t in beside)
        again = sum(technique.id == p.technique for r in self.rows if r is not row for p in r[:1])
        mains = {self.material.region_ids[m] for m in self.material.mains}
        leaves = self._region(row[0]) in mains and technique.region not in mains
        return apart + 0.3 * alike + again + leaves

    # --- techniques -------------------------------------------------------------------------

    def _next_technique(self, row: Row) -> Instead | None:
        """Return the next best of what stands there most easily; where nothing does, of all that
        may stand in just these bars."""
        if not self.may_be_chosen(row):
            return None
        return self._best_row(row, self._other_techniques(row, is_near=True)) or self._best_row(
            row, (*self._other_techniques(row, is_near=False), *self._otherwise_cut(row))
        )

    def _other_techniques(self, row: Row, *, is_near: bool) -> Iterator[Row]:
        """Give the row with each technique that may stand there, at the pressure that it has.

        Where a technique has not that pressure, at the nearest that it has, or (not `is_near`)
        at each. Deep work stays as deep as it is, and not `is_near` with any rest. One above the
        level is near only to what is.
        """
        is_stretch = any(p.stretch for p in row)
        for number in self._others_than(row, is_stretch=is_stretch or not is_near):
            if self.material.techniques[number].lateral is row[0].side.is_one_sided:
                for other in self._rows_with(row, number, is_near=is_near):
                    if self._may_stand(row, other):
                        yield other

    def _others_than(self, row: Row, *, is_stretch: bool) -> Iterator[int]:
        used = {p.technique for p in row}
        for number, technique in enumerate(self.material.techniques):
            is_able = is_stretch or not self.material.is_above_level(number)
            if is_able and technique.id not in used and not technique.helps_turn:
                yield number

    def _otherwise_cut(self, row: Row) -> Iterator[Row]:
        """Give the bars of a pair to what is not done side by side, and the other way round."""
        whole = _bars(row)
        if row[0].is_deep or len({p.technique for p in row}) > 1:
            return
        for number in self._others_than(row, is_stretch=True):
            technique = self.material.techniques[number]
            places = sides.sides(technique, self.craft)
            bars, left = divmod(whole, len(places))
            is_other = technique.lateral is not row[0].side.is_one_sided
            if not is_other or left or not self._may_last(technique, bars):
                continue
            cut = tuple(
                replace(row[0], id=f"{row[0].id}-{n}", side=side, start_bar=at, bars=bars)
                for n, side in enumerate(places)
                for at in (row[0].start_bar + n * bars,)
            )
            for other in self._rows_with(cut, number, is_near=False):
                if self._may_stand(row, other):
                    yield other

    def _may_last(self, technique: Technique, bars: int) -> bool:
        low, high = self.frame.ordinary
        longest = self.frame.at_most(LONGEST_HOLD_SECONDS) if technique.family.is_held else high
        return low <= bars <= max(low, min(high, longest))

    def _rows_with(self, row: Row, number: int, *, is_near: bool) -> Iterator[Row]:
        technique, allowed = self.material.techniques[number], self.material.pressures(number)
        if not allowed or any(p.position not in technique.position for p in row):
            return
        if row[0].is_deep and row[0].pressure not in allowed:
            return
        for wished in (None,) if is_near else allowed:
            main = {
                p.id: self._as(
                    p, number, _nearest(allowed, p.pressure if wished is None else wished)
                )
                for p in row
                if (p.technique == row[0].technique if is_near else _is_main(p, row))
            }
            if None not in main.values():
                most = _RESTS_TRIED if is_near else None
                yield from self._with_rests(row, technique, main, most)

    def _with_rests(
        self, row: Row, technique: Technique, main: dict[str, Passage | None], most: int | None
    ) -> Iterator[Row]:
        """Give the row with what is not the main technique: left, or moved to where that goes."""
        rests = [p for p in row if p.id not in main]
        there = all(self._region(p) == technique.region for p in rests)
        choices: list[int | None] = [None] if there else [*self._rests_on(technique)[:most]]
        for rest_number in choices:
            others = {
                p.id: p if rest_number is None else self._rest_as(p, rest_number) for p in rests
            }
            whole = [main.get(p.id) or others.get(p.id) for p in row]
            if all(whole):
                yield tuple(p for p in whole if p is not None)

    def _rests_on(self, technique: Technique) -> list[int]:
        """Return the techniques that could answer deep work by `technique`, glides first."""
        found = [
            i
            for i in self.material.ordinary()
            if self.material.techniques[i].region == technique.region
            and self.material.techniques[i].lateral is technique.lateral
            and any(rest.allows(p) for p in self.material.pressures(i))
        ]
        found.sort(key=lambda i: self.material.techniques[i].family is not Family.GLIDING)
        return found

    def _rest_as(self, passage: Passage, number: int) -> Passage | None:
        light = tuple(p for p in self.material.pressures(number) if rest.allows(p))
        return self._as(passage, number, _nearest(light, passage.pressure))

    def _as(self, passage: Passage, number: int, pressure: int) -> Passage | None:
        """Return `passage` with another technique; None where no stroke length fits its bars."""
        technique = self.material.techniques[number]
        beats = strokes.best(technique, self.frame, passage.bars, pressure)
        if beats is None or passage.position not in technique.position:
            return None
        side = passage.side
        if not side.is_one_sided:
            side = sides.sides(technique, self.craft)[0]
        return replace(
            passage,
            technique=technique.id,
            side=side,
            pressure=pressure,
            beats_per_stroke=beats,
            first_landing_beat=strokes.first_landing(technique, beats),
            stretch=self.material.is_above_level(number),
            why=(),
        )

    def _may_stand(self, row: Row, other: Row) -> bool:
        """False where `other` surely breaks a rule here; the rest is seen when all is checked."""
        free = opening.first_free_bar(self.frame)
        for passage in other:
            if passage.start_bar < free:
                family = self._technique(passage).family
                if not opening.allows(family, passage.pressure):
                    return False
        line, first = self.routine.line, self._place[row[0].id]
        last = self._place[row[-1].id]
        if first and not self._may_follow(line[first - 1], other[0]):
            return False
        return last + 1 == len(line) or self._may_follow(other[-1], line[last + 1])

    def _may_follow(self, before: Passage, after: Passage) -> bool:
        if self._is_bridge(before):
            return True
        is_home = after.role is Role.REFRAIN
        if not is_home and not rise.may_follow(rise.counted(before.pressure), after.pressure):
            return False
        return self._is_bridge(after) or self.craft.are_neighbours(
            self._region(before), self._region(after)
        )

    def _is_bridge(self, passage: Passage) -> bool:
        if passage.role is Role.REFRAIN or passage.is_open:
            return True
        family = self._technique(passage).family
        return family is Family.EMBRACE or (family is Family.HOLDING and passage.pressure == 0)

    def _technique(self, passage: Passage) -> Technique:
        assert passage.technique is not None
        return self.craft.technique(passage.technique)

    def _region(self, passage: Passage) -> str:
        return self._technique(passage).region

    # --- refrains ---------------------------------------------------------------------------

    def _other_refrains(self) -> Iterator[Instead]:
        first = self.routine.refrains[0]
        bars = sum(p.bars for p in first)
        positions = {p.position for row in self.routine.refrains for p in row}
        seen = {tuple(p.technique for p in first)}
        for row in refrain_rows(self.material, self.frame):
            ids = tuple(self.material.techniques[p.technique].id for p in row.block.parts)
            is_alike = row.block.bars == bars and positions <= set(row.positions)
            if ids in seen or not is_alike or len(seen) > _REFRAINS_TRIED:
                continue
            seen.add(ids)
            returns = [self._return_as(old, row.block.parts) for old in self.routine.refrains]
            passages: Iterable[Passage] = self.routine.passages
            for old, new in zip(self.routine.refrains, returns, strict=True):
                passages = _exchanged(replace(self.routine, passages=tuple(passages)), old, new)
            yield self._weighed(Kind.REFRAIN, first, returns[0], passages)

    def _return_as(self, old: Row, parts: Iterable[Part]) -> Row:
        found: list[Passage] = []
        at = old[0].start_bar
        for n, part in enumerate(parts):
            technique = self.material.techniques[part.technique]
            passage = replace(
                old[0],
                id=f"{old[0].id}-{n}",
                technique=technique.id,
                side=part.side,
                start_bar=at,
                bars=part.bars,
                pressure=part.pressure,
                beats_per_stroke=part.beats_per_stroke,
                first_landing_beat=strokes.first_landing(technique, part.beats_per_stroke),
                why=(),
            )
            found.append(passage)
            at = passage.end_bar
        return tuple(found)

    # --- order ------------------------------------------------------------------------------

    def _swap(self, one: Row, two: Row) -> Instead | None:
        """Return `one` and `two` in each other's places; None where they cannot be."""
        both = (*one, *two)
        if any(p.role in (Role.ARRIVE, Role.CLOSE) or p.kept for p in both):
            return None
        if {p.layer for p in both} != {Layer.ONLY} or len({p.position for p in both}) > 1:
            return None
        are_beside = one[-1].end_bar == two[0].start_bar
        if not are_beside and _bars(one) != _bars(two):
            return None
        back = two[0].start_bar - one[0].start_bar
        on = back if not are_beside else _bars(two)
        moved = {p.id: replace(p, start_bar=p.start_bar + on) for p in one}
        moved |= {p.id: replace(p, start_bar=p.start_bar - back) for p in two}
        passages = sorted(
            (moved.get(p.id, p) for p in self.routine.passages), key=lambda p: p.start_bar
        )
        swap = self._weighed(Kind.ORDER, one, two, passages)
        return swap if self.is_lawful(swap.then) else None


def _nearest(allowed: tuple[int, ...], pressure: int) -> int:
    return min(allowed, key=lambda p: (abs(p - pressure), p))


def _is_main(passage: Passage, row: Row) -> bool:
    """True where `passage` is what `row` is about: all of deep work, else its first technique."""
    return passage.is_deep if row[0].is_deep else passage.technique == row[0].technique


def _bars(row: Row) -> int:
    return sum(p.bars for p in row)


def _exchanged(routine: Routine, row: Row, other: Row) -> tuple[Passage, ...]:
    """Return the passages of `routine` with `other` in the place of `row`."""
    gone = {p.id for p in row}
    at = next(i for i, p in enumerate(routine.passages) if p.id in gone)
    rest_of = [p for p in routine.passages if p.id not in gone]
    return (*rest_of[:at], *other, *rest_of[at:])
