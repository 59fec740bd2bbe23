"""Reference planner: the plain slot model, one integer programme, solved by HiGHS.

Slots have fixed places and lengths; in each exactly one piece stands. There is no network: order
matters only between neighbours, as pairwise rows. Costs that belong to one slot (curve, speed,
length) are read off Rondel's own score, one slot changed at a time; what depends on several slots
(repeats, contacts, focus, rhythm, wide before small, a new place late) is written out in linear
rows. Refrain row, layout and height of the peak are fixed before; a few are tried in turn.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from reference.greedy import PEAK_WISHED, Planned, Step, fill
from reference.layouts import Layout, layouts
from reference.pieces import (
    Piece,
    Verdict,
    Workshop,
    closes,
    follows,
    judge,
    opens,
    positions_of,
    routine_of,
    stays,
    warmed,
)
from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import DEEP, Family, Intention, Role
from rondel.planner.score import score
from rondel.rules import contact_kept, filler, focus, level, repeat, rhythm, small_areas, warm

#: What one more use, and a neighbour with the same contact or family, is taken to cost: read off
#: the score of the day. They steer the programme only; the verdict is Rondel's own.
AGAIN, CONTACT, FAMILY, NO_STRETCH, ELSEWHERE = 0.4, 0.2, 0.15, 1.5, 3.0
SEPARABLE = ("curve", "speed")
TRIED = 3  # layouts, each with the best refrain


@dataclass
class Rows:
    """Linear rows low <= a·x <= high, gathered one by one; costs and kinds of the variables."""

    costs: list[float] = field(default_factory=list)
    whole: list[int] = field(default_factory=list)
    entries: list[tuple[int, int, float]] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def variable(self, cost: float, *, is_whole: bool = False) -> int:
        self.costs.append(cost)
        self.whole.append(int(is_whole))
        return len(self.costs) - 1

    def row(
        self, terms: Iterable[tuple[int, float]], low: float = -np.inf, high: float = np.inf
    ) -> None:
        for variable, factor in terms:
            self.entries.append((len(self.low), variable, factor))
        self.low.append(low)
        self.high.append(high)

    def solve(self, seconds: float) -> tuple[list[float] | None, bool]:
        """Return the values, or None, and whether they are proven best."""
        if not self.low:
            return None, False
        rows, columns, values = zip(*self.entries, strict=True)
        matrix = csr_array((values, (rows, columns)), shape=(len(self.low), len(self.costs)))
        found = milp(
            np.array(self.costs),
            integrality=np.array(self.whole),
            bounds=Bounds(0, [1.0 if w else np.inf for w in self.whole]),
            constraints=LinearConstraint(matrix, self.low, self.high),
            options={"time_limit": max(1.0, seconds), "mip_rel_gap": 1e-4},
        )
        return (None if found.x is None else list(found.x)), found.status == 0


class SlotModel:
    """One layout, one refrain and one height of the peak as an integer programme."""

    def __init__(self, shop: Workshop, layout: Layout, home: Piece, start: list[Piece]) -> None:
        self.shop, self.layout, self.home, self.start = shop, layout, home, start
        self.peak_at = layout.kinds.index(Role.PEAK)
        self.height = start[self.peak_at].height
        self.choices = [self._choices(place) for place in layout.places]
        self.rows = Rows()
        self.x = [
            [self.rows.variable(c, is_whole=True) for c in self._costs(place)]
            for place in layout.places
        ]
        for place in layout.places:
            self.rows.row([(v, 1.0) for v in self.x[place]], 1, 1)
        self._neighbours()
        self._heights()
        self._repeats()
        self._focus()
        self._rhythm()
        self._wide_first()
        self._something_new()
        self._stretch()

    def _choices(self, place: int) -> list[Piece]:
        """Return what single-place rules let stand in `place`."""
        kind, bars = self.layout.kinds[place], self.layout.bars[place]
        first = self.layout.starts[place]
        if kind is Role.REFRAIN:
            return [self.home]
        if kind is Role.PEAK:
            options = list(self.shop.peaks(bars, self.height))
        elif kind is Role.WORK:
            late = first >= self.shop.frame.bars * (1 - level.LAST_SHARE)
            options = [
                p
                for p in self.shop.work(bars)
                if p.height <= max(1, self.height) and (late or not p.first.stretch)
            ]
        else:
            options = self.shop.ends(kind, bars)
        return [
            p for p in options if opens(self.shop, first, p) and closes(self.shop, first + bars, p)
        ]

    def _costs(self, place: int) -> list[float]:
        """Return what each choice costs by itself: the score with this one place changed."""
        found = []
        for piece in self.choices[place]:
            pieces = [*self.start[:place], piece, *self.start[place + 1 :]]
            parts = dict(score(routine_of(self.shop, pieces), self.shop.craft).parts)
            cost = sum(parts.get(name, 0.0) for name in SEPARABLE)
            if place == self.peak_at and piece.region not in self.shop.mains:
                cost += ELSEWHERE
            found.append(cost + self._lettings_go(place, piece))
        least = min(found, default=0.0)
        return [c - least for c in found]

    def _lettings_go(self, place: int, piece: Piece) -> float:
        """Return what it costs that both hands leave the body between `piece` and a refrain."""
        kinds, total = self.layout.kinds, 0.0
        if place and kinds[place - 1] is Role.REFRAIN:
            total += not stays(self.shop, self.home, piece)
        if place + 1 < len(kinds) and kinds[place + 1] is Role.REFRAIN:
            total += not stays(self.shop, piece, self.home)
        return total * contact_kept.RULE.weight

    def _where(self, place: int, fits: object) -> list[int]:
        """Return the variables of the choices in `place` for which `fits(piece)`."""
        assert callable(fits)
        return [v for v, p in zip(self.x[place], self.choices[place], strict=True) if fits(p)]

    def _neighbours(self) -> None:
        """Reach, rise, and never the same technique next."""
        for place in list(self.layout.places)[:-1]:
            for v, before in zip(self.x[place], self.choices[place], strict=True):
                bad = [
                    w
                    for w, after in zip(self.x[place + 1], self.choices[place + 1], strict=True)
                    if not follows(self.shop, before, after)
                    or (
                        before.technique.id == after.technique.id
                        and before.first.role is not Role.REFRAIN
                    )
                    or self._too_long(before, after)
                ]
                if bad:
                    self.rows.row([(v, 1.0), *((w, 1.0) for w in bad)], high=1)

    def _too_long(self, before: Piece, after: Piece) -> bool:
        """True for two neighbours at 3 that together are a longer row than a peak at 3."""
        is_firm = before.height == after.height == self.height == 3
        both_work = before.first.role is after.first.role is Role.WORK
        return is_firm and both_work and before.bars + after.bars > self.layout.bars[self.peak_at]

    def _heights(self) -> None:
        """Warmth before depth; nothing livelier than a light peak."""
        need = self.shop.at_least(warm.SECONDS * self.shop.scale)
        for v, top in zip(self.x[self.peak_at], self.choices[self.peak_at], strict=True):
            if self.height >= DEEP:
                terms = [(v, -float(need))]
                for place in range(self.peak_at):
                    for w, p in zip(self.x[place], self.choices[place], strict=True):
                        if warmed(p, top.region):
                            terms.append((w, float(warmed(p, top.region))))
                self.rows.row(terms, low=0)
            elif self.height < 3:
                for place in self.layout.places:
                    if place == self.peak_at:
                        continue
                    lively = self._where(
                        place, lambda p, e=top.technique.energy: p.technique.energy > e
                    )
                    if lively:
                        self.rows.row([(v, 1.0), *((w, 1.0) for w in lively)], high=1)

    def _work_places(self) -> list[int]:
        return [i for i, k in enumerate(self.layout.kinds) if k in (Role.WORK, Role.PEAK)]

    def _repeats(self) -> None:
        """Each use after the first costs; contact and family of neighbours too."""
        places = [i for i, k in enumerate(self.layout.kinds) if k is not Role.REFRAIN]
        ids = sorted({p.technique.id for i in places for p in self.choices[i]})
        for id in ids:
            uses = [
                v
                for i in places
                for v in self._where(i, lambda p, t=id: any(q.technique.id == t for q in p.parts))
            ]
            extra = self.rows.variable(AGAIN)
            self.rows.row([(extra, 1.0), *((v, -1.0) for v in uses)], low=-1)
            if len(places) > repeat.MAX_TIMES:
                self.rows.row([(v, 1.0) for v in uses], high=repeat.MAX_TIMES)
        for one, two in pairwise(places):
            for cost, name in ((CONTACT, "contact"), (FAMILY, "family")):
                for value in {getattr(p.technique, name) for p in self.choices[one]}:
                    same = [
                        v
                        for i in (one, two)
                        for v in self._where(
                            i, lambda p, n=name, x=value: getattr(p.technique, n) is x
                        )
                    ]
                    extra = self.rows.variable(cost)
                    self.rows.row([(extra, 1.0), *((v, -1.0) for v in same)], low=-1)

    def _focus(self) -> None:
        """Half of the work on the main regions, and some on each of them."""
        places = self._work_places()
        wanted = focus.MIN_SHARE * sum(self.layout.bars[i] for i in places)
        mains = sorted(self.shop.mains)
        groups = [(tuple(mains), wanted, focus.RULE.weight)]
        part = wanted / max(1, len(mains)) / 2
        groups += [((m,), part, focus.RULE.weight / len(mains)) for m in mains]
        for regions, bars, weight in groups:
            short = self.rows.variable(weight)
            terms = [(short, 1.0)]
            for i in places:
                terms += [
                    (v, self.layout.bars[i] / bars)
                    for v in self._where(i, lambda p, r=regions: p.region in r)
                ]
            self.rows.row(terms, low=1)

    def _rhythm(self) -> None:
        if self.shop.brief.intention is Intention.SLEEP:
            return
        missing = self.rows.variable(rhythm.RULE.weight)
        beats = 90 * self.shop.scale / self.shop.bar_seconds
        terms = [(missing, 1.0)]
        for i in self._work_places():
            if self.layout.starts[i] >= beats:
                terms += [(v, 1.0) for v in self._where(i, lambda p: p.technique.is_alternating)]
        self.rows.row(terms, low=1)

    def _wide_first(self) -> None:
        """Small strokes on a region before any long one over it cost."""

        def covers(piece: Piece, region: str) -> bool:
            return any(
                q.technique.path_cm >= small_areas.LONG_CM
                and q.technique.family is not Family.HOLDING
                and region
                in (q.technique.region, *self.shop.craft.region(q.technique.region).covers)
                for q in piece.parts
            )

        for i in self._work_places():
            for region in sorted({p.region for p in self.choices[i]}):
                small = self._where(
                    i,
                    lambda p, r=region: p.region == r and p.technique.path_cm < small_areas.LONG_CM,
                )
                before = [
                    v for j in range(i) for v in self._where(j, lambda p, r=region: covers(p, r))
                ]
                if small:
                    cost = self.rows.variable(small_areas.RULE.weight)
                    terms = [(cost, 1.0), *((v, -1.0) for v in small)]
                    self.rows.row([*terms, *((v, 1.0) for v in before)], low=0)

    def _something_new(self) -> None:
        """A region not yet met, short and light, in the last quarter, or it costs."""
        missing = self.rows.variable(filler.RULE.weight)
        begins = (1 - filler.LAST_SHARE) * self.shop.frame.bars
        news = [(missing, 1.0)]
        for i in self._work_places():
            if self.layout.starts[i] < begins or self.layout.kinds[i] is not Role.WORK:
                continue
            for region in sorted({p.region for p in self.choices[i]}):
                fresh = self.rows.variable(0.0, is_whole=True)
                here = self._where(
                    i,
                    lambda p, r=region: (
                        p.region == r
                        and p.height <= filler.MAX_PRESSURE
                        and p.first.bars * self.shop.bar_seconds <= 60
                    ),
                )
                self.rows.row([(fresh, 1.0), *((v, -1.0) for v in here)], high=0)
                for j in range(i):
                    met = self._where(
                        j, lambda p, r=region: any(q.technique.region == r for q in p.parts)
                    )
                    if met:
                        self.rows.row([(fresh, 1.0), *((v, 1.0) for v in met)], high=1)
                news.append((fresh, 1.0))
        self.rows.row(news, low=1)

    def _stretch(self) -> None:
        """At most one stretch passage; none costs where one may be."""
        hard = [v for i in self._work_places() for v in self._where(i, lambda p: p.first.stretch)]
        if not hard:
            return
        self.rows.row([(v, 1.0) for v in hard], high=1)
        missing = self.rows.variable(NO_STRETCH)
        self.rows.row([(missing, 1.0), *((v, 1.0) for v in hard)], low=1)

    def solve(self, seconds: float) -> tuple[list[Piece] | None, bool]:
        """Return the pieces of the best filling found, and whether it is proven best."""
        values, is_best = self.rows.solve(seconds)
        if values is None:
            return None, False
        chosen = [
            next(p for v, p in zip(vs, ps, strict=True) if values[v] > 0.5)
            for vs, ps in zip(self.x, self.choices, strict=True)
        ]
        return chosen, is_best


@dataclass(frozen=True, slots=True, kw_only=True)
class Slotted:
    """What the slot model came to; `is_best` where its programmes were solved to the end."""

    planned: Planned
    is_best: bool


def plan_in_slots(brief: Brief, craft: Craft, seconds: float) -> Slotted:
    """Return the best routine of a few slot models, solved within about `seconds` of CPU time."""
    begun = time.process_time()
    steps: list[Step] = []
    best: tuple[Verdict, Routine] | None = None
    all_best = True
    for model in _models(brief, craft):
        left = seconds - (time.process_time() - begun)
        if left < 1:
            all_best = False
            break
        pieces, is_best = model.solve(left / 2)
        all_best &= is_best
        if pieces is None:
            continue
        routine = routine_of(model.shop, pieces)
        verdict = judge(routine, craft)
        if best is None or verdict < best[0]:
            best = verdict, routine
            steps.append(Step(seconds=time.process_time() - begun, verdict=verdict))
    planned = Planned(routine=best[1] if best else None, steps=tuple(steps))
    return Slotted(planned=planned, is_best=all_best and best is not None)


def _models(brief: Brief, craft: Craft) -> Iterable[SlotModel]:
    """Yield slot models of a few layouts; a greedy filling shows that each can be filled."""
    wished = PEAK_WISHED.get(brief.intention, DEEP)
    made = 0
    for position in positions_of(brief, craft)[:2]:
        shop = Workshop(brief, craft, position)
        for home in shop.homes()[:2]:
            for layout in layouts(shop, home.bars):
                draft = None
                for height in range(min(wished, shop.highest), 0, -1):
                    draft = fill(shop, layout, home, height)
                    if draft is not None:
                        break
                if draft is None:
                    continue
                yield SlotModel(shop, layout, home, draft.pieces)
                made += 1
                break
        if made >= TRIED:
            return
