"""What both reference planners are made of: pieces of work, a layout in slots, and the judge.

A reference routine lies in one position, its refrain comes at even places, and all its work stands
in slots between. Neither reference knows what a teacher insists on, minutes left free or turning
over; briefs that ask for these are none of theirs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import product
from math import ceil, floor, log

from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import DEEP, Family, Intention, Landing, Position, Role, Side
from rondel.planner.frame import Frame, frame_of
from rondel.planner.material import Material, material_of
from rondel.planner.score import score
from rondel.rules import close, opening, rest, warm

BEATS = 4
QUIET = (Family.GLIDING, Family.HOLDING, Family.EMBRACE)
ORDINARY_SECONDS = (30, 120)  # a side, the least scaled: rule book, "Lengths"
END_SECONDS = {Role.ARRIVE: (15, 60), Role.CLOSE: (30, 80)}  # the least scaled
REST_SECONDS = (15, 60)
HOME_SECONDS = 45  # one return, scaled
SLOT_SECONDS = (48, 72)  # ordinary slots, scaled
WORK_PRESSURE = 3


@dataclass(frozen=True, slots=True)
class Part:
    """One passage without its place."""

    technique: Technique
    role: Role
    side: Side
    pressure: int
    bars: int
    beats: Fraction
    stretch: bool = False


@dataclass(frozen=True)
class Piece:
    """Passages that stay together: one, a pair, or deep work with its rest on every side."""

    parts: tuple[Part, ...]

    @cached_property
    def bars(self) -> int:
        return sum(p.bars for p in self.parts)

    @property
    def first(self) -> Part:
        return self.parts[0]

    @property
    def last(self) -> Part:
        return self.parts[-1]

    @property
    def technique(self) -> Technique:
        return self.first.technique

    @property
    def region(self) -> str:
        return self.first.technique.region

    @property
    def height(self) -> int:
        return max(p.pressure for p in self.parts)

    @cached_property
    def key(self) -> tuple[tuple[str, int, int], ...]:
        return tuple((p.technique.id, p.pressure, p.bars) for p in self.parts)


def counts(part: Part) -> int:
    """Return the counted pressure of a passage that is not open."""
    return max(1, part.pressure) if part.technique.family.is_held else part.pressure


def is_way(part: Part) -> bool:
    """True where hands may come from anywhere and go anywhere."""
    family = part.technique.family
    return family is Family.EMBRACE or (family.is_held and part.pressure == 0)


class Workshop:
    """Builds pieces for one brief in one position, each length once."""

    def __init__(self, brief: Brief, craft: Craft, position: Position) -> None:
        self.brief, self.craft, self.position = brief, craft, position
        self.material: Material = material_of(brief, craft)
        self.frame: Frame = frame_of(brief)
        self.bar_seconds = float(self.frame.bar_seconds)
        self.beat_seconds = self.bar_seconds / BEATS
        self.scale = float(brief.scale)
        self.step = self.frame.step  # work stands in whole phrases, as in Rondel's plans
        self._work: dict[int, tuple[Piece, ...]] = {}
        self._peaks: dict[tuple[int, int], tuple[Piece, ...]] = {}
        self.usable = [
            (t, self.material.pressures(i), self.material.is_above_level(i))
            for i, t in enumerate(self.material.techniques)
            if position in t.position and not t.helps_turn
        ]
        self.mains = {self.material.region_ids[m] for m in self.material.mains}

    @property
    def highest(self) -> int:
        """The highest pressure that ordinary work may have here."""
        return max((max(p) for t, p, hard in self.usable if not hard and p), default=0)

    def at_least(self, seconds: float) -> int:
        return max(1, ceil(seconds / self.bar_seconds - 1e-9))

    def at_most(self, seconds: float) -> int:
        return floor(seconds / self.bar_seconds + 1e-9)

    def strokes(self, technique: Technique, pressure: int, bars: int) -> Fraction | None:
        """Return the beats of a stroke: of those that fill the bars at a taught pace the one
        nearest to the middle of the range, slow enough where glides should calm."""
        beats = bars * BEATS
        fast, slow = (float(s) for s in technique.cycle_seconds)
        if technique.family.is_held:
            return Fraction(beats) if fast <= beats * self.beat_seconds <= slow else None
        fitting = [Fraction(n) for n in range(1, beats + 1) if beats % n == 0]
        fitting = [
            n for n in (Fraction(1, 2), *fitting) if fast <= float(n) * self.beat_seconds <= slow
        ]

        def unease(n: Fraction) -> tuple[float, Fraction]:
            seconds = float(n) * self.beat_seconds
            rushes = self._calms(technique, pressure) and technique.path_cm / seconds > 8
            return 4.0 * rushes + abs(2 * log(seconds) - log(fast) - log(slow)), n

        return min(fitting, key=unease) if fitting else None

    def _calms(self, technique: Technique, pressure: int) -> bool:
        calm = self.brief.intention in (Intention.SETTLE, Intention.SLEEP)
        return calm and technique.family is Family.GLIDING and pressure <= 2

    def part(
        self, technique: Technique, role: Role, side: Side, pressure: int, bars: int, hard: bool
    ) -> Part | None:
        beats = self.strokes(technique, pressure, bars)
        if beats is None:
            return None
        return Part(technique, role, side, pressure, bars, beats, hard)

    def piece(
        self, technique: Technique, role: Role, pressure: int, bars: int, hard: bool = False
    ) -> Piece | None:
        """Return `bars` of one technique, half on each side where it is done so."""
        sides = (Side.LEFT, Side.RIGHT) if technique.lateral else (Side.BOTH,)
        if bars % len(sides):
            return None
        parts = [
            self.part(technique, role, side, pressure, bars // len(sides), hard) for side in sides
        ]
        return Piece(tuple(p for p in parts if p)) if all(parts) else None

    def work(self, bars: int) -> tuple[Piece, ...]:
        """Return all ordinary work that lasts `bars`."""
        if bars not in self._work:
            self._work[bars] = tuple(self._work_of(bars))
        return self._work[bars]

    def _work_of(self, bars: int) -> Iterator[Piece]:
        low, high = ORDINARY_SECONDS
        if bars < 1 or bars % self.step:
            return
        for technique, pressures, hard in self.usable:
            seconds = bars * self.bar_seconds / (2 if technique.lateral else 1)
            if technique.family.is_held or not low * self.scale - 0.01 <= seconds <= high + 0.01:
                continue
            for pressure in pressures:
                if 1 <= pressure <= WORK_PRESSURE:
                    piece = self.piece(technique, Role.WORK, pressure, bars, hard)
                    if piece:
                        yield piece

    def peaks(self, bars: int, pressure: int) -> tuple[Piece, ...]:
        """Return all peaks of `pressure` that last `bars`, deep ones with their rests."""
        key = (bars, pressure)
        if key not in self._peaks:
            made = self._deep(bars, pressure) if pressure >= DEEP else self._light(bars, pressure)
            self._peaks[key] = tuple(made)
        return self._peaks[key]

    def _light(self, bars: int, pressure: int) -> Iterator[Piece]:
        for technique, pressures, hard in self.usable:
            if not hard and pressure in pressures and not technique.family.is_held:
                piece = self.piece(technique, Role.PEAK, pressure, bars)
                if piece:
                    yield piece

    def _deep(self, bars: int, pressure: int) -> Iterator[Piece]:
        """Deep work comes from the pressure before, so that only 4 is tried."""
        if pressure != DEEP:
            return
        for (one, able, hard), (two, rests, harder) in product(self.usable, self.usable):
            if hard or harder or pressure not in able or one.family.is_held:
                continue
            if one.region != two.region or one.lateral is not two.lateral or one is two:
                continue
            soft = max((p for p in rests if 1 <= p <= rest.MAX_PRESSURE), default=0)
            sides = (Side.LEFT, Side.RIGHT) if one.lateral else (Side.BOTH,)
            if not soft or bars % len(sides):
                continue
            side_bars = bars // len(sides)
            least = self.at_least(REST_SECONDS[0] * self.scale)
            rest_bars = max(ceil(side_bars * rest.SHARE / (1 + rest.SHARE)), least)
            deep_bars = side_bars - rest_bars
            if deep_bars < self.at_least(ORDINARY_SECONDS[0] * self.scale):
                continue
            if rest_bars > self.at_most(REST_SECONDS[1]):
                continue
            parts: list[Part | None] = []
            for side in sides:
                parts.append(self.part(one, Role.PEAK, side, pressure, deep_bars, False))
                parts.append(self.part(two, Role.REST, side, soft, rest_bars, False))
            if parts and all(parts):
                yield Piece(tuple(p for p in parts if p))

    def homes(self) -> list[Piece]:
        """Return refrains: a base stroke that flows into a hold, the most homely first."""
        total = -(-self.at_least(HOME_SECONDS * self.scale) // self.step) * self.step
        if total * self.bar_seconds > 75:
            total = self.at_least(HOME_SECONDS * self.scale)
        hold_bars = max(1, total // 3)
        light = [(t, p) for t, p, hard in self.usable if t.refrain and not hard and min(p) <= 2]
        found = []
        for (base, soft), (hold, still) in product(light, light):
            if base.family.is_held or not hold.family.is_held or base.lateral or hold.lateral:
                continue
            if not self.craft.are_neighbours(base.region, hold.region):
                continue
            pressure = max(p for p in soft if p <= 2)
            low = 1 if 1 in still else 0
            a = self.part(base, Role.REFRAIN, Side.BOTH, pressure, total - hold_bars, False)
            b = self.part(hold, Role.REFRAIN, Side.BOTH, low, hold_bars, False)
            if a and b:
                found.append(Piece((a, b)))
        found.sort(key=lambda p: (-self._homeliness(p), p.key))
        return found

    def _homeliness(self, home: Piece) -> float:
        near = sum(
            any(self.craft.are_neighbours(p.technique.region, m) for p in home.parts)
            for m in self.mains
        )
        return near + sum(float(p.technique.closeness) for p in home.parts)

    def ends(self, role: Role, bars: int) -> list[Piece]:
        """Return first or last passages of `bars`: quiet, on both sides."""
        low, high = END_SECONDS[role]
        if not low * self.scale - 0.01 <= bars * self.bar_seconds <= high + 0.01:
            return []
        found = []
        for technique, pressures, hard in self.usable:
            if hard or technique.lateral or technique.family not in QUIET:
                continue
            for pressure in pressures:
                if pressure <= 2:
                    piece = self.piece(technique, role, pressure, bars)
                    if piece:
                        found.append(piece)
        return found


def routine_of(shop: Workshop, pieces: Iterable[Piece]) -> Routine:
    """Return the routine of `pieces` one after the other."""
    passages: list[Passage] = []
    at = 0
    for piece in pieces:
        for part in piece.parts:
            passages.append(
                Passage(
                    id=f"p{len(passages) + 1:02d}",
                    technique=part.technique.id,
                    role=part.role,
                    side=part.side,
                    position=shop.position,
                    start_bar=at,
                    bars=part.bars,
                    pressure=part.pressure,
                    beats_per_stroke=part.beats,
                    first_landing_beat=_landing(part),
                    stretch=part.stretch,
                )
            )
            at += part.bars
    return Routine(
        title=shop.brief.title,
        seed=shop.brief.seed,
        beats_per_bar=BEATS,
        tempo=(Tempo(bar=0, bpm=shop.frame.bpm),),
        bars=at,
        passages=tuple(passages),
        brief=shop.brief,
    )


def _landing(part: Part) -> Fraction:
    is_first = part.technique.landing is Landing.CONTACT or part.beats <= 1
    return Fraction(0) if is_first else Fraction(part.beats // 2)


@dataclass(frozen=True, slots=True, order=True)
class Verdict:
    """How many rules a routine breaks, and what it costs; less is better."""

    broken: int
    cost: float


def judge(routine: Routine, craft: Craft) -> Verdict:
    """Return the verdict of Rondel's own checker and score."""
    broken = sum(f.severity is Severity.MUST for f in check(routine, craft))
    return Verdict(broken, round(score(routine, craft).total, 6))


def positions_of(brief: Brief, craft: Craft) -> list[Position]:
    """Return the positions that may be planned in, best served first."""
    material = material_of(brief, craft)
    mains = {material.region_ids[m] for m in material.mains}

    def served(position: Position) -> int:
        there = [t for t in material.techniques if position in t.position]
        return sum(3 if t.region in mains else 1 for t in there)

    return sorted(material.positions, key=lambda p: (-served(p), p))


def opens(shop: Workshop, start: int, piece: Piece) -> bool:
    """True where the opening allows `piece` at bar `start`."""
    if start * shop.bar_seconds >= opening.SECONDS * shop.scale - 0.01:
        return True
    return all(p.pressure <= 2 and p.technique.family in QUIET for p in piece.parts)


def closes(shop: Workshop, end: int, piece: Piece) -> bool:
    """True where the close allows `piece` to end at bar `end`."""
    begins = shop.frame.bars * shop.bar_seconds - close.SECONDS * shop.scale
    return end * shop.bar_seconds <= begins + 0.01 or piece.height <= close.MAX_PRESSURE


def follows(shop: Workshop, before: Piece, after: Piece) -> bool:
    """True where `after` may come right after `before`: reach and rise."""
    leaving = max(counts(p) for p in before.parts) if _is_home(before) else counts(before.last)
    if counts(after.first) > leaving + 1:
        return False
    if _is_home(before) or _is_home(after) or is_way(before.last) or is_way(after.first):
        return True
    return shop.craft.are_neighbours(before.last.technique.region, after.first.technique.region)


def stays(shop: Workshop, before: Piece, after: Piece) -> bool:
    """True where a hand can stay on the body from one piece to the next."""
    craft = shop.craft
    one, two = (craft.region(p.technique.region) for p in (before.last, after.first))
    return any(
        craft.are_neighbours(a, b) for a in (one.id, *one.covers) for b in (two.id, *two.covers)
    )


def _is_home(piece: Piece) -> bool:
    return piece.first.role is Role.REFRAIN


def warmed(piece: Piece, region: str) -> int:
    """Return the bars a side that `piece` warms `region`."""
    low, high = warm.PRESSURES
    bars = sum(
        p.bars for p in piece.parts if p.technique.region == region and low <= p.pressure <= high
    )
    return bars // 2 if piece.technique.lateral else bars


def longer(shop: Workshop, piece: Piece, bars: int, pressure: int) -> Piece | None:
    """Return the same work with another length, or None where it cannot be had."""
    if piece.first.role is Role.WORK:
        options: Iterable[Piece] = shop.work(bars)
    elif piece.first.role is Role.PEAK:
        options = shop.peaks(bars, pressure)
    else:
        options = shop.ends(piece.first.role, bars)
    same = [
        p
        for p in options
        if tuple((x.technique.id, x.pressure) for x in p.parts)
        == tuple((x.technique.id, x.pressure) for x in piece.parts)
    ]
    return same[0] if same else None
