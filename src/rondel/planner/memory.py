"""What is known after one more block."""

from __future__ import annotations

from rondel.model.words import Position
from rondel.planner.blocks import Block, Kind
from rondel.planner.constraints import warm
from rondel.planner.grounds import Grounds
from rondel.planner.state import (
    AFTER,
    BEFORE,
    FILLER,
    MAIN_BITS,
    RHYTHM,
    STRETCH,
    WITHIN,
    State,
)

_WORKED = (Kind.WORK, Kind.PEAK)


def state_after(
    grounds: Grounds, before: State | None, block: Block, position: Position, cost: float
) -> State:
    """Return the state at the end of `block`, which follows `before` (None: it is the first)."""
    s = State()
    s.parent, s.block, s.position, s.cost = before, block, position, cost
    s.start = before.bar if before else 0
    s.bar = s.start + block.bars
    s.region, s.counts, s.exit_free = block.exit_region, block.exit_counts, block.exit_free
    _remember_form(s, before, block)
    _remember_peak(s, before, block)
    _remember_body(s, before, block, grounds)
    _remember_use(s, before, block)
    s.flags = _flags(s, before, block, grounds)
    return s


def _remember_form(s: State, before: State | None, block: Block) -> None:
    """Count returns, open passages, keeps and changes of position."""
    s.returns = before.returns if before else 0
    s.home_end = before.home_end if before else 0
    s.opens = before.opens if before else 0
    s.keeps = before.keeps if before else 0
    s.changes = before.changes if before else 0
    if block.kind is Kind.HOME:
        s.returns, s.home_end = s.returns + 1, s.bar
    elif block.kind is Kind.OPEN:
        s.opens += 1
    elif block.kind is Kind.TURN:
        s.changes += 1
    if block.keep >= 0:
        s.keeps |= 1 << block.keep


def _remember_peak(s: State, before: State | None, block: Block) -> None:
    """Follow the peak row, and the runs at 3 that it must outlast."""
    s.phase = before.phase if before else BEFORE
    s.row_start, s.row_bars = (before.row_start, before.row_bars) if before else (0, 0)
    s.run, s.longest = (before.run, before.longest) if before else (0, 0)
    s.brightest, s.peak_energy = (before.brightest, before.peak_energy) if before else (-1.0, -1.0)
    if block.kind is Kind.PEAK:
        s.peak_energy = max(s.peak_energy, block.energy)
        if s.phase == BEFORE:
            s.phase, s.row_start, s.row_bars = WITHIN, s.start, 0
        s.row_bars += block.bars
        s.run = 0
        return
    s.brightest = max(s.brightest, block.energy)
    if s.phase == WITHIN:
        s.phase = AFTER
    s.run = s.run + block.bars if block.kind is Kind.WORK and block.exit_counts == 3 else 0
    s.longest = max(s.longest, s.run)


def _remember_body(s: State, before: State | None, block: Block, grounds: Grounds) -> None:
    """Remember which regions were touched, widely stroked and warmed."""
    s.touched = (before.touched if before else 0) | block.touched
    s.wide = (before.wide if before else 0) | block.wide
    s.warmed = before.warmed if before else 0
    for region, bars in block.warmed:
        slot = grounds.slots.get(region)
        if slot is not None:
            s.warmed = warm.add(s.warmed, slot, bars)


def _remember_use(s: State, before: State | None, block: Block) -> None:
    """Remember the last block of its own, and count the bars on main regions."""
    s.used_last = before.used_last if before else 0
    s.contact, s.family = (before.contact, before.family) if before else ("", "")
    s.main, s.main_total = (before.main, before.main_total) if before else (0, 0)
    s.counted = before.counted if before else 0
    if not block.is_own:
        return
    s.used_last, s.contact, s.family = block.used, block.contact, block.family
    if block.kind in _WORKED:
        s.counted += block.bars
        if block.main >= 0:
            s.main += block.bars << (MAIN_BITS * block.main)
            s.main_total += block.bars


def _flags(s: State, before: State | None, block: Block, grounds: Grounds) -> int:
    """Remember rhythm, filler and stretch."""
    flags = before.flags if before else 0
    if block.alternates and s.start >= grounds.opening:
        flags |= RHYTHM
    if block.stretch:
        flags |= STRETCH
    if before and block.light and s.start >= grounds.first_filler:
        flags |= FILLER if block.touched & ~before.touched else 0
    return flags
