"""Reference planner: lay slots out evenly, fill them greedily, then climb by local changes.

Filling takes, slot by slot, the piece nearest to a simple dome of pressure that the rules on
neighbours allow and that brings something new. The climb changes one or two places at a time;
every candidate is judged by Rondel's own checker and score, broken rules before cost.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from math import exp

from reference.layouts import Layout, layouts
from reference.pieces import (
    Piece,
    Verdict,
    Workshop,
    closes,
    follows,
    judge,
    longer,
    opens,
    positions_of,
    routine_of,
    warmed,
)
from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import DEEP, Intention, Role
from rondel.rules import warm

PEAK_WISHED = {Intention.SLEEP: 3, Intention.CLOSENESS: 3}
TRIED_LAYOUTS = 3
TRIED_HOMES = 3
HEAT = (0.6, 0.02)  # of the climb, at its start and at its end, in cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One better routine on the way: CPU seconds since the start, and its verdict."""

    seconds: float
    verdict: Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """The best routine found, or None, and how it got better."""

    routine: Routine | None
    steps: tuple[Step, ...]

    def first_valid(self) -> float | None:
        """Return the seconds until the first routine that breaks no rule."""
        return next((s.seconds for s in self.steps if not s.verdict.broken), None)

    def reached(self, cost: float) -> float | None:
        """Return the seconds until a routine cost no more than `cost`."""
        return next(
            (s.seconds for s in self.steps if not s.verdict.broken and s.verdict.cost <= cost), None
        )


@dataclass
class Draft:
    """Pieces in the places of a layout that may change its lengths."""

    kinds: list[Role]
    pieces: list[Piece]
    height: int

    def copy(self) -> Draft:
        return Draft(list(self.kinds), list(self.pieces), self.height)


def plan_greedily(brief: Brief, craft: Craft, seconds: float, seed: int = 1) -> Planned:
    """Return the best routine found within `seconds` of CPU time."""
    begun = time.process_time()
    dice = random.Random(seed)
    drafts = [
        (shop, draft)
        for position in positions_of(brief, craft)[:2]
        for shop in (Workshop(brief, craft, position),)
        for draft in _drafts(shop)
    ]
    steps: list[Step] = []
    best: tuple[Verdict, Routine] | None = None

    def note(verdict: Verdict, routine: Routine) -> None:
        nonlocal best
        if best is None or verdict < best[0]:
            best = verdict, routine
            steps.append(Step(seconds=time.process_time() - begun, verdict=verdict))

    rated: list[tuple[Verdict, int, Workshop, Draft]] = []
    for shop, draft in drafts:
        routine = routine_of(shop, draft.pieces)
        verdict = judge(routine, craft)
        note(verdict, routine)
        rated.append((verdict, len(rated), shop, draft))
    rated.sort(key=lambda r: r[:2])
    for verdict, _, shop, draft in rated[:2]:
        left = seconds - (time.process_time() - begun)
        climb(shop, draft, verdict, left / 2, dice, note)
    return Planned(routine=best[1] if best else None, steps=tuple(steps))


def _drafts(shop: Workshop) -> list[Draft]:
    """Return greedy fillings of a few layouts with a few refrains."""
    wished = PEAK_WISHED.get(shop.brief.intention, DEEP)
    found = []
    homes = shop.homes()[:TRIED_HOMES]
    for home in homes:
        for number, layout in enumerate(layouts(shop, home.bars)):
            if number == TRIED_LAYOUTS:
                break
            for height in range(min(wished, shop.highest), 0, -1):
                draft = fill(shop, layout, home, height)
                if draft is not None:
                    found.append(draft)
                    break
    return found


def fill(shop: Workshop, layout: Layout, home: Piece, height: int) -> Draft | None:
    """Return the layout filled from the peak outwards; None where a slot stays empty."""
    peak_at = layout.kinds.index(Role.PEAK)
    peaks = shop.peaks(layout.bars[peak_at], height)
    for top in sorted(peaks, key=lambda p: (p.region not in shop.mains, p.key)):
        pieces = _filled(shop, layout, home, top)
        if pieces is not None:
            return Draft(list(layout.kinds), pieces, height)
    return None


def _filled(shop: Workshop, layout: Layout, home: Piece, top: Piece) -> list[Piece] | None:
    need = shop.at_least(warm.SECONDS * shop.scale) if top.height >= DEEP else 0
    pieces: list[Piece] = []
    for place in layout.places:
        kind, start, bars = layout.kinds[place], layout.starts[place], layout.bars[place]
        if kind is Role.REFRAIN:
            options: list[Piece] = [home]
        elif kind is Role.PEAK:
            options = [top]
            if sum(warmed(p, top.region) for p in pieces) < need:
                return None
        elif kind is Role.WORK:
            options = [p for p in shop.work(bars) if p.height <= max(top.height, 1)]
            options = [p for p in options if not p.first.stretch]
        else:
            options = shop.ends(kind, bars)
        later = layout.kinds[place + 1] if place + 1 < len(layout.kinds) else None
        fitting = [
            p
            for p in options
            if opens(shop, start, p)
            and closes(shop, start + bars, p)
            and (not pieces or follows(shop, pieces[-1], p))
            and (later is not Role.PEAK or follows(shop, p, top))
        ]
        if not fitting:
            return None
        cold = sum(warmed(p, top.region) for p in pieces) < need
        at = (start + bars / 2) / shop.frame.bars
        pieces.append(min(fitting, key=lambda p: (_unease(shop, p, pieces, at, cold, top), p.key)))
    return pieces


def _unease(
    shop: Workshop, piece: Piece, before: list[Piece], at: float, cold: bool, top: Piece
) -> float:
    """Return how ill `piece` suits share `at` of the time: pressure, repeats, places, warmth."""
    ideal = 1 + (top.height - 1) * max(0.0, 1 - abs(at - 0.7) / 0.7)
    total = abs(piece.first.pressure - ideal)
    for age, earlier in enumerate(reversed(before)):
        total += 2.0 if earlier.technique.id == piece.technique.id else 0.0
        if age < 2 and earlier.technique.contact is piece.technique.contact:
            total += 0.3
    total -= 1.0 if piece.region in shop.mains else 0.0
    if cold and warmed(piece, top.region):
        total -= 3.0
    if cold and at < 0.75 and shop.craft.are_neighbours(piece.region, top.region):
        total -= 0.5
    return total


def climb(
    shop: Workshop,
    draft: Draft,
    verdict: Verdict,
    seconds: float,
    dice: random.Random,
    note: Callable[[Verdict, Routine], None],
) -> None:
    """Change `draft` for `seconds` of CPU time; a worse neighbour is taken ever more rarely."""
    begun = time.process_time()
    here = verdict
    while (spent := time.process_time() - begun) < seconds:
        tried = change(shop, draft, dice)
        if tried is None:
            continue
        routine = routine_of(shop, tried.pieces)
        found = judge(routine, shop.craft)
        heat = HEAT[0] * (HEAT[1] / HEAT[0]) ** (spent / seconds)
        worse = 10 * (found.broken - here.broken) + found.cost - here.cost
        if worse <= 0 or dice.random() < exp(-worse / heat):
            draft, here = tried, found
        note(found, routine)


def change(shop: Workshop, draft: Draft, dice: random.Random) -> Draft | None:
    """Return a neighbour of `draft`, or None where the die picked something impossible."""
    moves = (_replaced, _replaced, _replaced, _exchanged, _shifted, _shifted, _split, _rehomed)
    return dice.choice(moves)(shop, draft.copy(), dice)


def _replaced(shop: Workshop, draft: Draft, dice: random.Random) -> Draft | None:
    """Another piece of the same length in one place."""
    at = dice.choice([i for i, k in enumerate(draft.kinds) if k is not Role.REFRAIN])
    kind, bars = draft.kinds[at], draft.pieces[at].bars
    if kind is Role.WORK:
        options: list[Piece] | tuple[Piece, ...] = shop.work(bars)
    elif kind is Role.PEAK:
        options = shop.peaks(bars, draft.height)
    else:
        options = shop.ends(kind, bars)
    fitting = [
        p
        for p in options
        if (at == 0 or follows(shop, draft.pieces[at - 1], p))
        and (at + 1 == len(draft.pieces) or follows(shop, p, draft.pieces[at + 1]))
    ]
    if not fitting:
        return None
    draft.pieces[at] = dice.choice(fitting)
    return draft


def _exchanged(shop: Workshop, draft: Draft, dice: random.Random) -> Draft | None:
    """Two places of work change what stands in them."""
    places = [i for i, k in enumerate(draft.kinds) if k is Role.WORK]
    if len(places) < 2:
        return None
    a, b = dice.sample(places, 2)
    draft.pieces[a], draft.pieces[b] = draft.pieces[b], draft.pieces[a]
    return draft


def _shifted(shop: Workshop, draft: Draft, dice: random.Random) -> Draft | None:
    """Some bars go from one place to another."""
    places = [i for i, k in enumerate(draft.kinds) if k is not Role.REFRAIN]
    giver, taker = dice.sample(places, 2)
    bars = dice.choice((1, 2)) * shop.step
    less = longer(shop, draft.pieces[giver], draft.pieces[giver].bars - bars, draft.height)
    more = longer(shop, draft.pieces[taker], draft.pieces[taker].bars + bars, draft.height)
    if less is None or more is None:
        return None
    draft.pieces[giver], draft.pieces[taker] = less, more
    return draft


def _split(shop: Workshop, draft: Draft, dice: random.Random) -> Draft | None:
    """One place of work becomes two, or two neighbours one."""
    places = [i for i, k in enumerate(draft.kinds) if k is Role.WORK]
    if not places:
        return None
    at = dice.choice(places)
    if dice.random() < 0.5 and at + 1 < len(draft.kinds) and draft.kinds[at + 1] is Role.WORK:
        merged = longer(
            shop, draft.pieces[at], draft.pieces[at].bars + draft.pieces[at + 1].bars, draft.height
        )
        if merged is None:
            return None
        draft.kinds[at : at + 2] = [Role.WORK]
        draft.pieces[at : at + 2] = [merged]
        return draft
    bars = draft.pieces[at].bars
    first = dice.choice(range(shop.step, max(bars, shop.step + 1), shop.step))
    less = longer(shop, draft.pieces[at], first, draft.height)
    others = shop.work(bars - first) if first < bars else ()
    if less is None or not others:
        return None
    draft.kinds[at : at + 1] = [Role.WORK, Role.WORK]
    draft.pieces[at : at + 1] = [less, dice.choice(others)]
    return draft


def _rehomed(shop: Workshop, draft: Draft, dice: random.Random) -> Draft | None:
    """Another refrain of the same length."""
    places = [i for i, k in enumerate(draft.kinds) if k is Role.REFRAIN]
    homes = [h for h in shop.homes() if h.bars == draft.pieces[places[0]].bars] if places else []
    if not homes:
        return None
    home = dice.choice(homes)
    for at in places:
        draft.pieces[at] = home
    return draft
