"""Deep work with its rest, as one block: a run on one side, rest there, then the other side."""

from __future__ import annotations

from itertools import product
from typing import cast

from rondel.model.words import DEEP, Family, Role
from rondel.planner.blocks import Block, Kind, Part, block_of, part_of
from rondel.planner.constraints import load, rest, sides
from rondel.planner.constraints.peak import Summit
from rondel.planner.frame import Frame
from rondel.planner.material import Material

_RUN_SECONDS = (32, 48, 64)
_JOINED_SECONDS = (32, 48)
_RESTS_TRIED = 2

#: A run: (technique, pressure, bars) one after the other.
Run = tuple[tuple[int, int, int], ...]


def deep_blocks(
    material: Material, frame: Frame, summit: Summit, numbers: list[int]
) -> tuple[Block, ...]:
    """Return every block of deep work whose firmest pressure is that of the peak."""
    key = ("deep", summit.pressure, summit.most_bars, frame.step, tuple(numbers))
    if key not in material.known:
        material.known[key] = tuple(_deep_blocks(material, frame, summit, numbers))
    return cast("tuple[Block, ...]", material.known[key])


def _deep_blocks(
    material: Material, frame: Frame, summit: Summit, numbers: list[int]
) -> list[Block]:
    found = []
    for run in _runs(material, frame, summit, numbers):
        for number in resting_techniques(material, run):
            block = deep_block(material, frame, run, number, Kind.PEAK)
            if block is not None and block.bars <= summit.most_bars:
                found.append(block)
    return found


def _runs(material: Material, frame: Frame, summit: Summit, numbers: list[int]) -> list[Run]:
    """Return single passages and, rising or changing the contact, two joined."""
    able = [
        i
        for i in numbers
        if not material.techniques[i].family.is_held and max(material.pressures(i)) >= DEEP
    ]
    found: list[Run] = []
    if summit.pressure == DEEP:
        found += [((i, DEEP, bars),) for i, bars in product(able, _lengths(frame, _RUN_SECONDS))]
    for one, two in product(able, able):
        a, b = material.techniques[one], material.techniques[two]
        if a.region != b.region or a.lateral != b.lateral:
            continue
        if summit.pressure not in material.pressures(two):
            continue
        if summit.pressure == DEEP and (one == two or a.contact == b.contact):
            continue
        for bars in _lengths(frame, _JOINED_SECONDS):
            found.append(((one, DEEP, bars), (two, summit.pressure, bars)))
    return [r for r in found if sum(bars for _, _, bars in r) <= load.most_bars(frame)]


def _lengths(frame: Frame, seconds: tuple[int, ...]) -> tuple[int, ...]:
    low, high = frame.ordinary
    step = frame.step
    wished = [max(1, round(s * frame.scale / frame.bar_seconds / step)) * step for s in seconds]
    longer = [bars if bars >= low else bars + step for bars in wished]
    return tuple(dict.fromkeys(b for b in longer if low <= b <= high)) or (low,)


def resting_techniques(material: Material, run: Run) -> list[int]:
    """Return what can answer the run: on the same region, as wide and long a stroke as there is."""
    first = run[0][0]
    region, lateral = material.regions[first], material.techniques[first].lateral
    used = [number for number, _, _ in run]
    able = [
        i
        for i in material.ordinary()
        if material.regions[i] == region
        and material.techniques[i].lateral == lateral
        and any(p >= 1 and rest.allows(p) for p in material.pressures(i))
        and set(material.techniques[i].position) & set(material.techniques[first].position)
    ]
    able.sort(
        key=lambda i: (
            i in used,
            material.techniques[i].family is not Family.GLIDING,
            -material.techniques[i].path_cm,
        )
    )
    return able[:_RESTS_TRIED]


def deep_block(
    material: Material,
    frame: Frame,
    run: Run,
    resting: int,
    kind: Kind,
    *,
    keep: int = -1,
    mirrored: bool = False,
) -> Block | None:
    """Return the run with its rest on every side; None where no rest of a right length fits."""
    role = Role.PEAK if kind is Kind.PEAK else Role.WORK
    deep_bars = sum(bars for _, _, bars in run)
    places = sides.sides(material.techniques[run[0][0]], material.craft)
    pressure = max(p for p in material.pressures(resting) if rest.allows(p))
    low = max(rest.least_bars(deep_bars, frame.drift), frame.rest[0])
    fitting = sorted(
        range(low, frame.rest[1] + 1),
        key=lambda b: ((deep_bars + b) * len(places) % frame.step != 0, b),
    )
    if (deep_bars + (fitting[0] if fitting else 0)) * len(places) % frame.step:
        return None
    for bars in fitting[:3]:
        if (deep_bars + bars) * len(places) % frame.step:
            return None
        parts: list[Part | None] = []
        for side in reversed(places) if mirrored else places:
            parts += [part_of(material, frame, i, role, side, p, n) for i, p, n in run]
            parts.append(part_of(material, frame, resting, Role.REST, side, pressure, bars))
        whole = tuple(p for p in parts if p is not None)
        if len(whole) == len(parts):
            return block_of(material, frame, kind, whole, keep)
    return None
