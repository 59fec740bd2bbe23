"""The cost of a finished routine, worked out afresh from its passages and its brief.

The search adds costs up block by block; this module shares its numbers and the cost of one
place, but none of its bookkeeping, so that the two can be held against each other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from rondel.hands.neighbours import neighbour_load
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Role
from rondel.planner import taste
from rondel.planner.constraints import (
    contact_kept,
    curve,
    filler,
    focus,
    opening,
    repeat,
    rhythm,
    rise,
    small_areas,
    speed,
    vary,
)
from rondel.planner.curves import shape_of
from rondel.planner.frame import Frame, frame_of
from rondel.planner.material import Material, material_of
from rondel.planner.refrains import Home, home_cost
from rondel.planner.track_costs import track_costs_of

_WORKED = (Role.WORK, Role.PEAK)
_CURVED = (Role.ARRIVE, Role.WORK, Role.PEAK, Role.CLOSE)

Row = tuple[Passage, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """What a routine costs, by rule and by wish of taste."""

    parts: tuple[tuple[str, float], ...]

    @property
    def total(self) -> float:
        return sum(cost for _, cost in self.parts)


@dataclass(frozen=True, kw_only=True)
class _View:
    routine: Routine
    craft: Craft
    material: Material
    frame: Frame

    def technique(self, passage: Passage) -> Technique:
        assert passage.technique is not None
        return self.craft.technique(passage.technique)


def score(routine: Routine, craft: Craft, material: Material | None = None) -> Score:
    """Return the cost of a routine that carries its brief.

    `material` is what `material_of` gives for that brief, where it is at hand: it saves time.
    """
    if routine.brief is None:
        raise ValueError("only a routine that carries its brief can be scored")
    view = _View(
        routine=routine,
        craft=craft,
        material=material or material_of(routine.brief, craft),
        frame=frame_of(routine.brief, refrains=len(routine.refrains)),
    )
    blocks = tuple(own_blocks(routine))
    track = track_costs_of(view.frame, craft)
    with_track = (("track", track.of_routine(routine, craft)),) if track else ()
    with_prefer = (("prefer", _prefer(view)),) if routine.brief.prefer else ()
    return Score(
        parts=(
            ("curve", _curve(view)),
            ("speed", _speed(view)),
            ("contact_kept", _contact_kept(view)),
            ("repeat", _repeat(view, blocks)),
            ("vary", _vary(view, blocks)),
            ("small_areas", _small_areas(view, blocks)),
            ("focus", _focus(view, blocks)),
            ("filler", _filler(view)),
            ("rhythm", _rhythm(view)),
            ("taste", _taste(view, blocks)),
            *with_prefer,
            *with_track,
        )
    )


def is_turning(routine: Routine, passage: Passage) -> bool:
    """True for a rest right after the refrain or open bars: there the receiver turns over."""
    at = routine.line.index(passage)
    before = routine.line[at - 1] if at else None
    return (
        passage.role is Role.REST
        and before is not None
        and before.role in (Role.REFRAIN, Role.OPEN)
    )


def own_blocks(routine: Routine) -> Iterator[Row]:
    """Yield the blocks outside the refrain: a passage or deep run with its rest, and its pair."""
    rows: list[Row] = []
    for passage in routine.line:
        if passage.role in (Role.REFRAIN, Role.OPEN) or is_turning(routine, passage):
            rows.append(())
        elif rows and rows[-1] and _goes_on(rows[-1][-1], passage):
            rows[-1] = (*rows[-1], passage)
        else:
            rows.append((passage,))
    i = 0
    while i < len(rows):
        if i + 1 < len(rows) and rows[i] and _mirror(rows[i], rows[i + 1]):
            yield rows[i] + rows[i + 1]
            i += 1
        elif rows[i]:
            yield rows[i]
        i += 1


def _goes_on(before: Passage, passage: Passage) -> bool:
    """True within a deep run, and from it to its rest."""
    return (
        before.is_deep
        and before.side is passage.side
        and (passage.is_deep or passage.role is Role.REST)
    )


def _mirror(one: Row, two: Row) -> bool:
    return len(one) == len(two) and all(
        a.side.is_one_sided
        and b.side is a.side.other
        and (a.technique, a.pressure, a.bars) == (b.technique, b.pressure, b.bars)
        for a, b in zip(one, two, strict=True)
    )


def _prefer(view: _View) -> float:
    brief = view.routine.brief
    assert brief is not None
    return sum(
        taste.rather_cost(brief, view.technique(p).id, view.frame.minutes_of(p.bars))
        for p in view.routine.line
        if not p.is_open
    )


def _curve(view: _View) -> float:
    assert view.routine.brief is not None
    shape = shape_of(view.routine.brief.intention, view.routine.bars)
    minutes = float(view.frame.bar_seconds / 60)
    return view.material.prices.curve * sum(
        curve.cost(
            shape,
            p.start_bar,
            p.end_bar,
            pressure=rise.counted(p.pressure),
            energy=float(view.technique(p).energy),
            closeness=float(view.technique(p).closeness),
            bar_minutes=minutes,
        )
        for p in view.routine.line
        if p.role in _CURVED
    )


def _speed(view: _View) -> float:
    is_laid = view.frame.laid is not None
    beat = view.frame.beat_seconds if is_laid else Fraction(60) / view.routine.tempo[0].bpm
    return view.material.prices.speed * sum(
        speed.cost(
            view.technique(p),
            p.pressure,
            float(p.beats_per_stroke * beat),
            view.routine.intention,
        )
        for p in view.routine.line
        if not p.is_open
    )


def _contact_kept(view: _View) -> float:
    total = 0.0
    for one, two in pairwise(view.routine.line):
        if one.is_open or two.is_open or is_turning(view.routine, two):
            continue
        regions = view.technique(one).region, view.technique(two).region
        if not contact_kept.is_kept(view.craft, *regions):
            total += view.material.prices.contact_kept
    return total


def _used(row: Row) -> frozenset[str]:
    return frozenset(p.technique for p in row if p.technique is not None)


def _repeat(view: _View, blocks: tuple[Row, ...]) -> float:
    prices = view.material.prices
    total = sum(prices.at_once for a, b in pairwise(blocks) if _used(a) & _used(b))
    window = view.frame.at_most(Fraction(str(prices.per_minutes)) * 60)
    for i, row in enumerate(blocks):
        for technique in _used(row):
            since = row[0].start_bar - window
            uses = sum(technique in _used(b) for b in blocks[:i] if b[0].start_bar >= since)
            is_often = repeat.is_too_often(uses, prices.max_times)
            total += prices.too_often if is_often else 0.0
    return total


def _vary(view: _View, blocks: tuple[Row, ...]) -> float:
    prices = view.material.prices
    total = 0.0
    window = view.frame.at_most(vary.WINDOW_SECONDS)
    mains = {view.material.region_ids[m] for m in view.material.mains}
    for i, row in enumerate(blocks):
        technique = view.technique(row[0])
        if i:
            before = view.technique(blocks[i - 1][0])
            total += prices.same_contact * neighbour_load(before, technique)
            total += prices.same_family if before.family is technique.family else 0.0
        earlier = [b for b in blocks[:i] if b[0].start_bar >= row[0].start_bar - window]
        total += prices.again * sum(used in _used(b) for b in earlier for used in _used(row))
        there = sum(view.technique(b[0]).region == technique.region for b in earlier)
        total += there * prices.place_again(technique.region in mains)
    return total


def _small_areas(view: _View, blocks: tuple[Row, ...]) -> float:
    prices = view.material.prices
    asked = small_areas.regions_with_wide(view.craft, prices.long_cm)
    starts = {row[0].start_bar: row for row in blocks}
    wide: set[str] = set()
    total = 0.0
    inside = 0  # passages before this bar belong to a block already weighed
    for passage in view.routine.line:
        if passage.is_open:
            continue
        technique = view.technique(passage)
        row = starts.get(passage.start_bar)
        if row is not None and passage.start_bar >= inside:
            inside = row[-1].end_bar
            is_small = small_areas.is_small(technique, prices.long_cm) and technique.region in asked
            total += prices.small_areas if is_small and technique.region not in wide else 0.0
        if small_areas.is_wide(technique, prices.long_cm):
            wide |= {technique.region, *view.craft.region(technique.region).covers}
    return total


def _focus(view: _View, blocks: tuple[Row, ...]) -> float:
    worked = [row for row in blocks if row[0].role in _WORKED]
    per_region = [0] * len(view.material.mains)
    for row in worked:
        region = view.technique(row[0]).region
        for i, main in enumerate(view.material.mains):
            if view.material.region_ids[main] == region:
                per_region[i] += sum(p.bars for p in row)
    homes = sum(p.bars for row in view.routine.refrains for p in row)
    prices = view.material.prices
    return focus.cost(
        per_region,
        sum(p.bars for row in worked for p in row),
        max(1, view.routine.bars - homes - view.frame.closing[0]),
        prices.min_share,
        prices.focus,
    )


def _filler(view: _View) -> float:
    first = filler.first_bar(view.frame, view.material.prices.last_share)
    touched: set[str] = set()
    for passage in view.routine.line:
        if passage.is_open:
            continue
        region = view.technique(passage).region
        if (
            passage.role is Role.WORK
            and passage.start_bar >= first
            and region not in touched
            and filler.is_short_and_light(view.frame, passage.bars, passage.pressure)
        ):
            return 0.0
        touched.add(region)
    return view.material.prices.filler


def _rhythm(view: _View) -> float:
    free = opening.first_free_bar(view.frame)
    has = any(
        p.role in _WORKED and p.start_bar >= free and rhythm.gives(view.technique(p))
        for p in view.routine.line
    )
    return (
        0.0 if has or not rhythm.is_asked(view.routine.intention) else view.material.prices.rhythm
    )


def _taste(view: _View, blocks: tuple[Row, ...]) -> float:
    routine, brief = view.routine, view.routine.brief
    assert brief is not None
    total = sum(taste.length_cost(view.frame, p.bars) for p in routine.line if p.role in _WORKED)
    for i, row in enumerate(routine.refrains):
        bars = sum(p.bars for p in row)
        returns = len(routine.refrains)
        total += taste.spread_cost(routine.bars, returns, bars, i, row[0].start_bar)
    free = [p for p in routine.line if p.is_open]
    for i, p in enumerate(free):
        total += taste.open_cost(routine.bars, len(free), i, p.start_bar, p.bars)
    turns = sum(a.position is not b.position for a, b in pairwise(routine.line))
    total += turns * taste.turned_cost(brief) + taste.unturned_cost(view.material.turns, turns)
    total += _turnings(view)
    last = view.technique(routine.line[-1])
    total += taste.ending_cost(routine.intention, last.family, float(last.energy))
    total += home_cost(view.material, view.frame, _home(routine))
    total += sum(
        taste.position_cost(brief, b.position)
        for a, b in pairwise(routine.line)
        if a.position is not b.position
    )
    if view.material.may_stretch and not any(p.stretch for p in routine.line):
        total += taste.NO_STRETCH
    total += taste.position_cost(brief, routine.line[0].position)
    total += taste.peak_cost(view.frame, _peak_bars(routine))
    firmest = max(p.pressure for p in routine.line if p.role is Role.PEAK)
    total += taste.light_peak_cost(routine.intention, view.material.highest, firmest)
    mains = {view.material.region_ids[m] for m in view.material.mains}
    peak = next(row for row in blocks if any(p.role is Role.PEAK for p in row))
    return total + (0.0 if view.technique(peak[0]).region in mains else taste.PEAK_ELSEWHERE)


def _turnings(view: _View) -> float:
    """Return what turnings cost that leave a position next to no time."""
    routine, total = view.routine, 0.0
    for before, at in pairwise(routine.line):
        if before.position is not at.position:
            total += taste.token_cost(routine.bars, view.material.turns, at.start_bar, at.end_bar)
    return total


def _home(routine: Routine) -> Home:
    return tuple((p.technique, p.pressure, p.bars) for p in routine.refrains[0])


def _peak_bars(routine: Routine) -> int:
    """Return the bars of the peak row: from the first peak passage to the last, and its rests."""
    line = routine.line
    places = [i for i, p in enumerate(line) if p.role is Role.PEAK]
    last = places[-1]
    while last + 1 < len(line) and line[last + 1].role is Role.REST:
        last += 1
    return line[last].end_bar - line[places[0]].start_bar
