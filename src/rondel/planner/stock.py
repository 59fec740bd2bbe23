"""Every block that the search may place, built once for one brief, refrain and peak."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast

from rondel.model.words import Family, Intention, Position, Role
from rondel.planner.blocks import Block, Kind, block_of, open_block, part_of
from rondel.planner.bridging import bridge_bars
from rondel.planner.constraints import close, keep, level, opening, positions, sides
from rondel.planner.constraints import open as open_bars
from rondel.planner.constraints.peak import Summit
from rondel.planner.deep import deep_blocks
from rondel.planner.frame import Frame
from rondel.planner.kept import kept_blocks
from rondel.planner.material import Material
from rondel.planner.refrains import Refrain

_WORK_SECONDS = (30, 48, 64, 96)
_PAIR_SECONDS = (30, 48, 64)
_PEAK_SECONDS = (48, 64, 96, 118)
_MOST_WORK_PRESSURE = 3


@dataclass(frozen=True, kw_only=True)
class Stock:
    """Blocks by use. `positions[b]` of a block's first technique tells where it can stand."""

    material: Material
    frame: Frame
    summit: Summit
    refrain: Refrain
    arrivals: tuple[Block, ...]
    work: tuple[Block, ...]
    peaks: tuple[Block, ...]
    kept: tuple[Block, ...]
    open_blocks: tuple[Block, ...]
    turns: dict[Position, Block]

    def may_lie(self, block: Block, position: Position) -> bool:
        """True where every technique of the block can be done in `position`."""
        return all(position in self.material.techniques[n].position for n in block.numbers)


def lengths(frame: Frame, seconds: tuple[int, ...]) -> tuple[int, ...]:
    """Return all numbers of bars in whole phrases, from the least that a passage may last to about
    the longest of `seconds` (scaled)."""
    low, high = frame.ordinary
    step = frame.step
    longest = round(max(seconds) * frame.scale / frame.bar_seconds / step) * step
    first = -(-low // step) * step
    return tuple(range(first, min(high, max(first, longest)) + 1, step)) or (low,)


def stock_of(
    material: Material,
    frame: Frame,
    summit: Summit,
    refrain: Refrain,
    *,
    open_pieces: int = 1,
    is_wide: bool = False,
) -> Stock:
    """Return the blocks; `is_wide` lets holds and the refrain's strokes be work as well."""
    numbers = [i for i, t in enumerate(material.techniques) if not t.helps_turn]
    chunks = open_bars.chunks(frame, open_pieces)
    return Stock(
        material=material,
        frame=frame,
        summit=summit,
        refrain=refrain,
        arrivals=_arrivals(material, frame, summit, numbers, sum(chunks)),
        work=_work(material, frame, summit, _workable(material, numbers, is_wide)),
        peaks=_peaks(material, frame, summit, numbers),
        kept=kept_blocks(material, frame, summit),
        open_blocks=tuple(open_block(bars) for bars in chunks),
        turns=_turns(material, frame),
    )


def _workable(material: Material, numbers: list[int], is_wide: bool) -> list[int]:
    """Return what may be work: no embraces (but for closeness). What belongs to the refrain is
    taken out later (`Table.for_home`)."""
    held = [Family.EMBRACE]
    if material.brief.intention in (Intention.SETTLE, Intention.WAKE):
        held.append(Family.HOLDING)
    if is_wide:
        return numbers
    return [i for i in numbers if material.techniques[i].family not in held]


def _block(
    material: Material, frame: Frame, kind: Kind, role: Role, number: int, pressure: int, bars: int
) -> Block | None:
    """Return a passage or a pair of one technique, `bars` a side; None where strokes do not fit."""
    key = (kind, role, number, pressure, bars)
    if key not in material.known:
        parts = tuple(
            part_of(material, frame, number, role, side, pressure, bars)
            for side in sides.sides(material.techniques[number], material.craft)
        )
        whole = tuple(p for p in parts if p is not None)
        fits = len(whole) == len(parts)
        material.known[key] = block_of(material, frame, kind, whole) if fits else None
    return cast("Block | None", material.known[key])


def _work(
    material: Material, frame: Frame, summit: Summit, numbers: list[int]
) -> tuple[Block, ...]:
    """Return ordinary work at every pressure and length."""
    found = []
    most = min(_MOST_WORK_PRESSURE, summit.outside)
    for i in numbers:
        t = material.techniques[i]
        seconds = _PAIR_SECONDS if t.lateral else _WORK_SECONDS
        for pressure in material.pressures(i):
            if pressure > most:
                continue
            some = lengths(frame, seconds)
            if not t.lateral:
                some += bridge_bars(frame, some[-1])
            for bars in some:
                block = _block(material, frame, Kind.WORK, Role.WORK, i, pressure, bars)
                if block is not None and not (t.family.is_held and bars > frame.at_most(64)):
                    found.append(block)
    return tuple(found)


def _peaks(
    material: Material, frame: Frame, summit: Summit, numbers: list[int]
) -> tuple[Block, ...]:
    """Return what may be the peak, or part of it."""
    ordinary = [i for i in numbers if not material.is_above_level(i)]
    if summit.is_deep:
        return deep_blocks(material, frame, summit, ordinary)
    found = []
    for i in ordinary:
        t = material.techniques[i]
        if summit.pressure not in material.pressures(i) or t.family.is_held:
            continue
        for bars in lengths(frame, _PEAK_SECONDS):
            block = _block(material, frame, Kind.PEAK, Role.PEAK, i, summit.pressure, bars)
            if block is not None and block.bars <= summit.most_bars:
                found.append(block)
    return tuple(found)


def _arrivals(
    material: Material, frame: Frame, summit: Summit, numbers: list[int], open_total: int
) -> tuple[Block, ...]:
    """Return first passages; they take the bars that do not fill a phrase. On a track, what
    follows then begins on a phrase, or where most of them do, and the close takes what is left."""
    low, high = frame.arrival
    rest = frame.off_phrase((frame.bars - open_total) % frame.step)
    phrases = frame.laid.course.phrases if frame.laid else ()
    off = {rest, *_only_starts(material, frame)}
    fitting = [b for b in range(low, high + 1) if b % frame.step in off or b in phrases]
    found = []
    for i in numbers:
        t = material.techniques[i]
        if t.lateral or material.is_above_level(i):
            continue
        light = [p for p in material.pressures(i) if opening.allows(t.family, p)][:1]
        for pressure in (p for p in light if p <= summit.outside):
            for bars in fitting or [low]:
                block = _block(material, frame, Kind.ARRIVE, Role.ARRIVE, i, pressure, bars)
                if block is not None:
                    found.append(block)
    return tuple(found)


def _only_starts(material: Material, frame: Frame) -> Iterator[int]:
    """Yield how far off the phrase what is insisted on has to begin, where its time leaves but one
    way: it may be asked for just before the quiet opening ends, or before the last third."""
    for wanted in material.brief.keep:
        window = keep.start_window(wanted, frame)
        if window is None:
            continue
        for i, technique in enumerate(material.techniques):
            if technique.id != wanted.technique:
                continue
            first = window[0]
            pressures = [p for p in material.pressures(i) if wanted.pressure in (None, p)]
            if not any(opening.allows(technique.family, p) for p in pressures):
                first = max(first, opening.first_free_bar(frame))
            if material.is_above_level(i):
                first = max(first, level.first_stretch_bar(frame))
            able = {bar % frame.step for bar in range(first, window[1] + 1)}
            if len(able) == 1:
                yield from able


def close_blocks(stock: Stock, bars: int) -> tuple[Block, ...]:
    """Return last passages of exactly `bars`."""
    material, frame = stock.material, stock.frame
    low, high = frame.closing
    if not low <= bars <= high:
        return ()
    found = []
    for i in material.ordinary():
        t = material.techniques[i]
        if t.lateral:
            continue
        for pressure in material.pressures(i):
            if close.may_end(t.family, pressure) and pressure <= stock.summit.outside:
                block = _block(material, frame, Kind.CLOSE, Role.CLOSE, i, pressure, bars)
                if block is not None:
                    found.append(block)
    return tuple(found)


def _turns(material: Material, frame: Frame) -> dict[Position, Block]:
    """Return the turning into each position: hands that only help, else a still hold."""
    found: dict[Position, Block] = {}
    need = max(positions.least_bars(frame), frame.rest[0])
    bars = -(-need // frame.step) * frame.step
    held = [
        i
        for i, t in enumerate(material.techniques)
        if t.family.is_held and 0 in material.pressures(i) and not t.lateral
        if not material.is_above_level(i)
    ]
    held.sort(key=lambda i: not material.techniques[i].helps_turn)
    for position in material.positions:
        for i in held:
            if position in material.techniques[i].position:
                block = _block(material, frame, Kind.TURN, Role.REST, i, 0, bars)
                if block is not None:
                    found.setdefault(position, block)
    return found
