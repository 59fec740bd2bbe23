"""Whole blocks: what the search puts one after the other, so that rules hold by construction.

A block is one ordinary passage, a left and right pair, deep work with its rest (mirrored where
lateral), a return of the refrain, the arrival, an open passage, a turning over, or the close.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from fractions import Fraction

from rondel.model.words import Role, Side
from rondel.planner.constraints import (
    close,
    filler,
    opening,
    reach,
    rhythm,
    rise,
    small_areas,
    speed,
    strokes,
    warm,
)
from rondel.planner.frame import Frame
from rondel.planner.material import Material
from rondel.planner.taste import length_cost, rather_cost


class Kind(IntEnum):
    """What a block is there for."""

    ARRIVE = 0
    HOME = 1
    WORK = 2
    PEAK = 3
    OPEN = 4
    TURN = 5
    CLOSE = 6


@dataclass(frozen=True, slots=True)
class Part:
    """One passage of a block; `technique` is a number of the material, or -1 for open bars."""

    technique: int
    role: Role
    side: Side
    pressure: int
    bars: int
    beats_per_stroke: Fraction
    stretch: bool = False


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Block:
    """Parts with everything the search asks of them, worked out beforehand.

    Regions are numbers, sets are bits. `flat_cost` does not depend on the place in time;
    `stretches` are (first bar, bars, pressure, energy, closeness) for the curves.
    """

    kind: Kind
    parts: tuple[Part, ...]
    bars: int
    entry_region: int
    entry_pressure: int
    entry_free: bool
    exit_region: int
    exit_counts: int
    exit_free: bool
    technique: int
    numbers: tuple[int, ...]
    ids: tuple[str, ...]  # of the techniques, in the order of `numbers`
    used: int
    contact: str
    family: str
    touched: int
    wide: int
    small: int  # the region bit that wants a long stroke first, or 0
    warmed: tuple[tuple[int, int], ...]  # region, bars a side
    deep_region: int  # -1 where nothing is deep
    main: int  # place among the main regions, or -1
    opens: bool
    closes: bool
    alternates: bool
    light: bool
    stretch: bool
    keep: int
    energy: float  # of the most energetic passage
    pressure: int  # of the firmest passage
    is_own: bool  # a block in the sense of `repeat`: not of the refrain, open, or a turning
    flat_cost: float
    stretches: tuple[tuple[int, int, int, float, float], ...]


_COUNTED = (Kind.WORK, Kind.PEAK)
_CURVED = (Role.ARRIVE, Role.WORK, Role.PEAK, Role.CLOSE)


def part_of(
    material: Material, frame: Frame, number: int, role: Role, side: Side, pressure: int, bars: int
) -> Part | None:
    """Return a passage with its best stroke length; None where no stroke length fits."""
    technique = material.techniques[number]
    beats = strokes.best(technique, frame, bars, pressure)
    if beats is None:
        return None
    above = material.is_above_level(number)
    return Part(number, role, side, pressure, bars, beats, above)


def open_block(bars: int) -> Block:
    """Return bars left free."""
    part = Part(-1, Role.OPEN, Side.BOTH, 2, bars, Fraction(4))
    return Block(
        kind=Kind.OPEN,
        parts=(part,),
        bars=bars,
        entry_region=-1,
        entry_pressure=0,
        entry_free=True,
        exit_region=-1,
        exit_counts=rise.counted(None),
        exit_free=True,
        technique=-1,
        numbers=(),
        ids=(),
        used=0,
        contact="",
        family="",
        touched=0,
        wide=0,
        small=0,
        warmed=(),
        deep_region=-1,
        main=-1,
        opens=False,
        closes=True,
        alternates=False,
        light=False,
        stretch=False,
        keep=-1,
        energy=-1.0,
        pressure=part.pressure,
        is_own=False,
        flat_cost=0.0,
        stretches=(),
    )


def block_of(
    material: Material, frame: Frame, kind: Kind, parts: tuple[Part, ...], keep: int = -1
) -> Block:
    """Return the block that `parts` make, with its summary."""
    techniques = [material.techniques[p.technique] for p in parts]
    regions = [material.regions[p.technique] for p in parts]
    first, last = parts[0], parts[-1]
    numbers = tuple(dict.fromkeys(p.technique for p in parts))
    deep = [r for r, p in zip(regions, parts, strict=True) if p.pressure >= 4]
    firmest = max(p.pressure for p in parts)
    counts = rise.counted(firmest if kind is Kind.HOME else last.pressure)
    small = (
        1 << regions[0] & material.with_wide
        if small_areas.is_small(techniques[0], material.prices.long_cm)
        else 0
    )
    is_counted = kind in _COUNTED
    is_main = is_counted and regions[0] in material.mains
    return Block(
        kind=kind,
        parts=parts,
        bars=sum(p.bars for p in parts),
        entry_region=regions[0],
        entry_pressure=rise.counted(first.pressure),
        entry_free=kind is Kind.HOME or reach.frees(techniques[0], first.pressure),
        exit_region=regions[-1],
        exit_counts=counts,
        exit_free=kind is Kind.HOME or reach.frees(techniques[-1], last.pressure),
        technique=numbers[0],
        numbers=numbers,
        ids=tuple(material.techniques[n].id for n in numbers),
        used=sum(1 << n for n in numbers),
        contact=techniques[0].contact,
        family=techniques[0].family,
        touched=_bits(regions),
        wide=_bits_of(
            material.covers[r]
            for r, t in zip(regions, techniques, strict=True)
            if small_areas.is_wide(t, material.prices.long_cm)
        ),
        small=0 if kind in (Kind.HOME, Kind.TURN) else small,
        warmed=_warmed(regions, parts),
        deep_region=deep[0] if deep else -1,
        main=material.mains.index(regions[0]) if is_main else -1,
        opens=all(
            opening.allows(t.family, p.pressure) for t, p in zip(techniques, parts, strict=True)
        ),
        closes=all(close.allows(p.pressure) for p in parts),
        alternates=is_counted and rhythm.gives(techniques[0]),
        light=kind is Kind.WORK
        and all(filler.is_short_and_light(frame, p.bars, p.pressure) for p in parts),
        stretch=any(p.stretch for p in parts),
        keep=keep,
        energy=max(float(t.energy) for t in techniques),
        pressure=firmest,
        is_own=kind not in (Kind.HOME, Kind.TURN),
        flat_cost=_flat_cost(material, frame, kind, parts),
        stretches=_stretches(material, parts),
    )


def _bits(numbers: list[int]) -> int:
    return _bits_of(1 << n for n in numbers)


def _bits_of(masks: Iterable[int]) -> int:
    found = 0
    for mask in masks:
        found |= mask
    return found


def _warmed(regions: list[int], parts: tuple[Part, ...]) -> tuple[tuple[int, int], ...]:
    """Return the bars of warming a side that each region gets from the whole block."""
    both: dict[int, list[int]] = {}
    for region, part in zip(regions, parts, strict=True):
        if warm.warms(part.pressure):
            left, right = both.setdefault(region, [0, 0])
            left += part.bars if part.side is not Side.RIGHT else 0
            right += part.bars if part.side is not Side.LEFT else 0
            both[region] = [left, right]
    return tuple((region, min(sides)) for region, sides in both.items() if min(sides))


def _flat_cost(material: Material, frame: Frame, kind: Kind, parts: tuple[Part, ...]) -> float:
    """Return what the block costs wherever it stands: pace, length, hands leaving the body."""
    total = 0.0
    for i, part in enumerate(parts):
        technique = material.techniques[part.technique]
        seconds = float(part.beats_per_stroke * frame.beat_seconds)
        total += material.prices.speed * speed.cost(
            technique, part.pressure, seconds, frame.brief.intention
        )
        total += rather_cost(frame.brief, technique.id, frame.minutes_of(part.bars))
        if part.role in (Role.WORK, Role.PEAK):
            total += length_cost(frame, part.bars)
        if i:
            before = material.regions[parts[i - 1].technique]
            if not material.stays[before][material.regions[part.technique]]:
                total += material.prices.contact_kept
    return total


def _stretches(
    material: Material, parts: tuple[Part, ...]
) -> tuple[tuple[int, int, int, float, float], ...]:
    """Return what of the block is held against the curves; neighbours alike are joined."""
    found: list[tuple[int, int, int, float, float]] = []
    at = 0
    for part in parts:
        if part.role in _CURVED:
            t = material.techniques[part.technique]
            pressure = rise.counted(part.pressure)
            row = (at, part.bars, pressure, float(t.energy), float(t.closeness))
            if found and found[-1][2:] == row[2:] and sum(found[-1][:2]) == at:
                row = (found[-1][0], found[-1][1] + part.bars, *row[2:])
                found.pop()
            found.append(row)
        at += part.bars
    return tuple(found)
