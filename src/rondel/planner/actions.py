"""All that may be put next, as arrays: own blocks first, then the refrain, open bars, turnings,
arrivals. One action a row; what it does to a half-made plan stands in its columns."""

from __future__ import annotations

import numpy as np

from rondel.planner.blocks import Block, Kind
from rondel.planner.table import Bools, Floats, Ints, Table, _flags, _of

_SLOTS = 3  # techniques that one block may have


class Actions:
    """Columns over the actions of a search.

    `techniques` has one column for each of up to three techniques of a block; a number past the
    last technique fills what is empty.
    """

    def __init__(self, table: Table) -> None:
        self.table = table
        material = table.material
        self.own_count = len(table.own)
        self.home = self.own_count
        self.first_open = self.home + 1
        self.turn_positions = list(table.turns)
        self.first_turn = self.first_open + len(table.opens)
        self.first_arrival = self.first_turn + len(self.turn_positions)
        self.blocks: list[Block] = [
            *table.own,
            table.home,
            *table.opens,
            *table.turns.values(),
            *table.arrivals,
        ]
        blocks = self.blocks
        self.bars = _of(blocks, "bars")
        self.kind = _of(blocks, "kind")
        self.is_peak: Bools = self.kind == Kind.PEAK
        self.is_own = _flags(blocks, "is_own")
        count = len(material.techniques)
        self.techniques = np.full((len(blocks), _SLOTS), count, dtype=np.int64)
        for i, block in enumerate(blocks):
            if block.is_own:
                self.techniques[i, : len(block.numbers)] = block.numbers
        self.region = np.where(self.is_own, _of(blocks, "entry_region"), len(material.region_ids))
        self.ending = np.full(len(blocks), -1, dtype=np.int64)
        self.ending[: self.own_count] = table.end_of
        self.ending[self.first_arrival :] = table.arrival_end
        self.touched = _bits(blocks, "touched")
        self.wide = _bits(blocks, "wide")
        self.small = _bits(blocks, "small")
        # What no long stroke can prepare costs so for certain; it is part of the place's cost.
        early, late = table.unprepared
        self.small_early, self.small_late = self.small.copy(), self.small.copy()
        self.small_early[: self.own_count][early] = 0
        self.small_late[: self.own_count][late] = 0
        is_counted = (self.kind == Kind.WORK) | self.is_peak
        self.counted = np.where(is_counted, self.bars, 0)
        self.main = np.where(is_counted, _of(blocks, "main"), -1)
        self.energy: Floats = np.array([b.energy for b in blocks])
        self.is_at_three: Bools = (self.kind == Kind.WORK) & (_of(blocks, "exit_counts") == 3)
        self.keep = _of(blocks, "keep")
        self.is_turn: Bools = self.kind == Kind.TURN
        self.alternates = _flags(blocks, "alternates")
        self.light = _flags(blocks, "light")
        self.stretch = _flags(blocks, "stretch")
        self.deep_slot = np.full(len(blocks), -1, dtype=np.int64)
        slots = table.grounds.slots
        self.warms = np.zeros((len(blocks), max(1, len(slots))), dtype=np.int64)
        for i, block in enumerate(blocks):
            if block.deep_region >= 0:
                self.deep_slot[i] = slots[block.deep_region]
            for region, bars in block.warmed:
                if region in slots:
                    self.warms[i, slots[region]] += bars

    def small_of(self, actions: Ints, bars: Ints) -> Ints:
        """Return the region (as a bit) that wants a long stroke before each of `actions`, begun at
        `bars`; 0 for none."""
        is_early = bars < self.table.grounds.first_stretch
        return np.where(is_early, self.small_early[actions], self.small_late[actions])


def _bits(blocks: list[Block], name: str) -> Ints:
    """Return sets of regions, which are few enough for the bits of one number."""
    return np.array([getattr(b, name) for b in blocks], dtype=np.int64)
