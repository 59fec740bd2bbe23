"""Rows that could be the refrain: base strokes and an embrace or a hold, as wide as home is."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import cast

from rondel.model.repertoire import Technique
from rondel.model.words import Contact, Family, Intention, Position, Role
from rondel.planner.blocks import Block, Kind, Part, block_of, part_of
from rondel.planner.constraints import refrain_same, rise, sides
from rondel.planner.frame import Frame
from rondel.planner.material import Material
from rondel.planner.taste import HOME, even_gap

_TRIED = 6  # rows of the same positions

_WIDE_CONTACTS = (Contact.PALM, Contact.FOREARM, Contact.FLAT_FINGERS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refrain:
    """One row, the positions that it can be done in, and how well it would serve (more: better)."""

    block: Block
    positions: tuple[Position, ...]
    worth: float


#: A refrain as (technique, pressure, bars) of its passages.
Home = tuple[tuple[str | None, int, int], ...]


def home_of(row: Refrain, material: Material) -> Home:
    """Return the passages of a refrain row, by name."""
    return tuple((material.techniques[p.technique].id, p.pressure, p.bars) for p in row.block.parts)


def home_cost(material: Material, frame: Frame, home: Home) -> float:
    """Return what it costs that `home` serves less well than the best; a home that is none of the
    rows was chosen by the teacher, and costs nothing."""
    rows = refrain_rows(material, frame)
    best = max((row.worth for row in rows), default=0.0)
    worth = next((row.worth for row in rows if home_of(row, material) == home), best)
    return HOME * (best - worth)


def refrain_of(material: Material, frame: Frame, home: Home) -> Refrain | None:
    """Return the row that `home` names; None where it cannot be a refrain here."""
    numbers = {t.id: i for i, t in enumerate(material.techniques)}
    row = tuple((numbers.get(id or "", -1), pressure, bars) for id, pressure, bars in home)
    if any(i < 0 or not refrain_same.allows(p) for i, p, _ in row):
        return None
    if any(p not in material.pressures(i) for i, p, _ in row):
        return None
    parts = []
    sided = [i for i, _, _ in row if material.techniques[i].lateral]
    done: dict[int, int] = {}
    for i, pressure, bars in row:
        places = sides.sides(material.techniques[i], material.craft)
        side = places[done.get(i, 0) % len(places)]
        done[i] = done.get(i, 0) + 1
        parts.append(part_of(material, frame, i, Role.REFRAIN, side, pressure, bars))
    whole = tuple(p for p in parts if p is not None)
    positions = _positions(material, *(i for i, _, _ in row))
    is_whole = len(whole) == len(parts) and all(done[i] % 2 == 0 for i in sided)
    if not whole or not is_whole or not positions:
        return None
    if not refrain_same.is_home(tuple(material.techniques[i] for i, _, _ in row)):
        return None
    known = {home_of(r, material): r.worth for r in refrain_rows(material, frame)}
    block = block_of(material, frame, Kind.HOME, whole)
    return Refrain(block=block, positions=positions, worth=known.get(home, 0.0))


def refrain_rows(material: Material, frame: Frame) -> tuple[Refrain, ...]:
    """Return possible refrains, the best first: base and embrace, else an embrace or hold alone."""
    key = ("rows", frame)
    if key not in material.known:
        material.known[key] = _refrain_rows(material, frame)
    return cast("tuple[Refrain, ...]", material.known[key])


def _refrain_rows(material: Material, frame: Frame) -> tuple[Refrain, ...]:
    held, bases = _homely(material)
    found = []
    for row in _best(material, [(h,) for h in held]):
        found += _alone(material, frame, row[0])
    for row in _best(material, list(product(bases, held))):
        found += _together(material, frame, row[0], row[1])
    return tuple(sorted(found, key=lambda r: (-r.worth, r.block.bars, r.block.numbers)))


def _best(material: Material, rows: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Return the rows that would serve best, in every set of positions that occurs."""
    rated: dict[tuple[Position, ...], list[tuple[float, tuple[int, ...]]]] = {}
    for row in rows:
        positions = _positions(material, *row)
        if positions:
            rated.setdefault(positions, []).append((-_own_worth(material, row), row))
    return [row for some in rated.values() for _, row in sorted(some)[:_TRIED]]


def _homely(material: Material) -> tuple[list[int], list[int]]:
    """Return the numbers of holds and of base strokes; any light one where none is marked."""
    light = [
        i for i in material.ordinary() if any(refrain_same.allows(p) for p in material.pressures(i))
    ]
    held = [i for i in light if material.techniques[i].family.is_held]
    gliding = [i for i in light if material.techniques[i].family is Family.GLIDING]
    marked = [i for i in held if material.techniques[i].refrain]
    bases = [i for i in gliding if material.techniques[i].refrain]
    return marked or held, bases or gliding


def _positions(material: Material, *numbers: int) -> tuple[Position, ...]:
    techniques = [material.techniques[i] for i in numbers]
    return tuple(p for p in material.positions if all(p in t.position for t in techniques))


def _worth(material: Material, numbers: tuple[int, ...], positions: tuple[Position, ...]) -> float:
    """Return how good a home the techniques make: closeness, width, and room for the main work."""
    return _own_worth(material, numbers) + _place_worth(material, positions)


def _own_worth(material: Material, numbers: tuple[int, ...]) -> float:
    """Return what of it hangs on the techniques, and not on positions alone."""
    techniques = [material.techniques[i] for i in numbers]
    worth = sum(_homeliness(t) for t in techniques) / len(techniques) + 0.6 * len(techniques)
    regions = [material.regions[i] for i in numbers]
    if len(regions) > 1 and material.stays[regions[0]][regions[-1]]:
        worth += 0.5
    if len({t.contact for t in techniques}) > 1:
        worth += 0.1
    near = [m for m in material.mains if any(material.stays[r][m] for r in regions)]
    return worth + 1.0 * len(near) / max(1, len(material.mains))


def _place_worth(material: Material, positions: tuple[Position, ...]) -> float:
    """Return what of it hangs on the positions alone."""
    served = [m for m in material.mains if _is_served(material, m, positions)]
    worth = 0.0 if _serves_keeps(material, positions) else -20.0
    # A home that cannot be come home to after a turning over would forbid the turning.
    wished = material.turns
    worth += 3.0 * min(wished, len(positions) - 1)
    return worth + 4.0 * len(served) / max(1, len(material.mains)) + 0.1 * len(positions)


def _serves_keeps(material: Material, positions: tuple[Position, ...]) -> bool:
    """True where what the teacher insists on can be done in some of `positions`."""
    wanted = {k.technique for k in material.brief.keep}
    return all(
        any(p in t.position for p in positions) for t in material.techniques if t.id in wanted
    )


def _homeliness(technique: Technique) -> float:
    worth = float(technique.closeness) + (1.0 if technique.family is Family.EMBRACE else 0.0)
    if technique.family is Family.GLIDING:
        worth += min(1.0, float(technique.path_cm) / 80) + float(-technique.energy)
        worth += 0.3 if technique.contact in _WIDE_CONTACTS else 0.0
    return worth


def _is_served(material: Material, region: int, positions: tuple[Position, ...]) -> bool:
    """True where some of the work on `region` can be done in one of `positions`."""
    return any(
        any(p in material.techniques[i].position for p in positions)
        for i in material.ordinary()
        if material.regions[i] == region and not material.techniques[i].family.is_held
    )


def _row(
    material: Material, frame: Frame, row: tuple[tuple[int, int, int], ...]
) -> tuple[Part, ...]:
    """Return the passages of a row of (technique, pressure, bars); () where strokes do not fit."""
    parts: list[Part] = []
    for number, pressure, bars in row:
        for side in sides.sides(material.techniques[number], material.craft):
            part = part_of(material, frame, number, Role.REFRAIN, side, pressure, bars)
            if part is None:
                return ()
            parts.append(part)
    return tuple(parts)


def _pressure(material: Material, number: int) -> int:
    """Return the firmest pressure of the refrain; half asleep, the lighter one."""
    light = [p for p in material.pressures(number) if refrain_same.allows(p)]
    if material.techniques[number].family.is_held:
        return light[0] if material.brief.intention is Intention.SLEEP else light[-1]
    return light[-1]


def _alone(material: Material, frame: Frame, hold: int) -> list[Refrain]:
    """Return the refrain of one hold, short and longer."""
    positions = _positions(material, hold)
    found = []
    for bars in dict.fromkeys(_totals(frame)):
        parts = _row(material, frame, ((hold, _pressure(material, hold), bars),))
        if parts and positions and len(parts) == 1:
            block = block_of(material, frame, Kind.HOME, parts)
            worth = _worth(material, (hold,), positions) + _length_worth(frame, bars)
            found.append(Refrain(block=block, positions=positions, worth=worth))
    return found


def _together(material: Material, frame: Frame, base: int, hold: int) -> list[Refrain]:
    """Return refrains of a base stroke that flows into a hold, of several lengths."""
    positions = _positions(material, base, hold)
    if not positions or not material.reach[material.regions[base]][material.regions[hold]]:
        return []
    base_pressure, hold_pressure = _pressure(material, base), _pressure(material, hold)
    if not rise.may_follow(rise.counted(base_pressure), hold_pressure):
        return []
    is_pair = material.techniques[base].lateral
    found = []
    for total, share in product(dict.fromkeys(_totals(frame)), (3, 2)):
        hold_bars = max(1, total // share if share == 2 else total - total * 2 // 3)
        base_bars = (total - hold_bars) // 2 if is_pair else total - hold_bars
        if base_bars < 1 or material.techniques[hold].lateral:
            continue
        row = ((base, base_pressure, base_bars), (hold, hold_pressure, hold_bars))
        parts = _row(material, frame, row)
        bars = sum(p.bars for p in parts)
        if not parts or bars != total:
            continue
        block = block_of(material, frame, Kind.HOME, parts)
        worth = _worth(material, (base, hold), positions) + _length_worth(frame, bars)
        found.append(Refrain(block=block, positions=positions, worth=worth - block.flat_cost))
    return found


def _totals(frame: Frame) -> list[int]:
    """Return lengths of one return in bars: whole phrases, and the least that the rule allows."""
    low, high = frame.home
    phrases = [b for b in range(low, high + 1) if b % frame.step == 0]
    return [*phrases, low] if phrases else [low]


def _length_worth(frame: Frame, bars: int) -> float:
    """Return less for a return that takes more than a third of the way from home to home."""
    seconds = float(bars * frame.bar_seconds)
    gap = even_gap(frame.bars, frame.refrains, bars)
    crowded = max(0.0, bars / gap - 0.4) * 4
    return -abs(seconds - 50 * max(0.6, float(frame.scale))) / 60 - crowded
