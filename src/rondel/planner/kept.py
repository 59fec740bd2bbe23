"""Blocks that hold what the teacher insists on, one list for all keeps."""

from __future__ import annotations

from rondel.model.brief import Keep
from rondel.model.words import DEEP, Role, Side
from rondel.planner.blocks import Block, Kind, block_of, part_of
from rondel.planner.constraints import close, keep, opening, sides
from rondel.planner.constraints.peak import Summit
from rondel.planner.deep import deep_block, resting_techniques
from rondel.planner.frame import Frame
from rondel.planner.material import Material

_USUAL_SECONDS = (30, 48, 64, 90)


def kept_blocks(material: Material, frame: Frame, summit: Summit) -> tuple[Block, ...]:
    """Return every block that satisfies a keep of the brief; `Block.keep` tells which."""
    found: list[Block] = []
    for number, wanted in enumerate(material.brief.keep):
        for i, technique in enumerate(material.techniques):
            if technique.id == wanted.technique:
                found += _blocks_for(material, frame, summit, number, wanted, i)
    return tuple(found)


def _lengths(wanted: Keep, frame: Frame, sides: int) -> tuple[int, ...]:
    """Return the bars a kept passage may have: as insisted on, else as usual."""
    window = keep.bars_window(wanted, frame)
    if window is not None:
        # A whole number of phrases where there is one: what follows then falls on phrases.
        fitting = range(window[0], window[1] + 1)
        whole = tuple(b for b in fitting if b * sides % frame.step == 0)
        return whole if whole and frame.step > 2 else tuple(fitting)
    low, high = frame.ordinary
    step = frame.step
    found = [round(s * frame.scale / frame.bar_seconds / step) * step for s in _USUAL_SECONDS]
    found = [low, low + 1, *found]
    return tuple(dict.fromkeys(b for b in found if low <= b <= high)) or (low,)


def _blocks_for(
    material: Material, frame: Frame, summit: Summit, number: int, wanted: Keep, i: int
) -> list[Block]:
    found: list[Block] = []
    for pressure in material.pressures(i):
        if wanted.pressure is not None and pressure != wanted.pressure:
            continue
        for bars in _lengths(wanted, frame, 2 if material.techniques[i].lateral else 1):
            for kind, role in _uses(material, frame, summit, wanted, i, pressure):
                if pressure >= DEEP:
                    found += _deep(material, frame, kind, number, wanted, (i, pressure, bars))
                    continue
                places = _places(material, wanted, i)
                parts = [part_of(material, frame, i, role, s, pressure, bars) for s in places]
                whole = tuple(p for p in parts if p is not None)
                if whole and len(whole) == len(parts):
                    found.append(block_of(material, frame, kind, whole, number))
    return found


def _places(material: Material, wanted: Keep, i: int) -> tuple[Side, ...]:
    """Return the sides in order, the one insisted on first; () where it cannot be."""
    places = sides.sides(material.techniques[i], material.craft)
    if wanted.side is None or wanted.side is places[0]:
        return places
    if wanted.side in places:
        return places[::-1]
    if not material.techniques[i].lateral and not wanted.side.is_one_sided:
        return (wanted.side,)
    return ()


def _deep(
    material: Material,
    frame: Frame,
    kind: Kind,
    number: int,
    wanted: Keep,
    run: tuple[int, int, int],
) -> list[Block]:
    places = _places(material, wanted, run[0])
    if not places:
        return []
    found = [
        deep_block(
            material,
            frame,
            (run,),
            resting,
            kind,
            keep=number,
            mirrored=places[0] is Side.RIGHT,
        )
        for resting in resting_techniques(material, (run,))
    ]
    return [b for b in found if b is not None]


def _uses(
    material: Material, frame: Frame, summit: Summit, wanted: Keep, i: int, pressure: int
) -> list[tuple[Kind, Role]]:
    """Return what the kept passage may be: work, peak, arrival or close."""
    technique = material.techniques[i]
    uses = []
    if pressure == summit.pressure and not technique.family.is_held:
        uses.append((Kind.PEAK, Role.PEAK))
    if pressure <= summit.outside:
        uses.append((Kind.WORK, Role.WORK))
    window = keep.start_window(wanted, frame)
    if technique.lateral or material.is_above_level(i) or pressure > summit.outside:
        return uses  # what is above the level comes late, and before the close
    if opening.allows(technique.family, pressure) and (window is None or window[0] == 0):
        uses.append((Kind.ARRIVE, Role.ARRIVE))
    if close.may_end(technique.family, pressure):
        uses.append((Kind.CLOSE, Role.CLOSE))
    return uses
