"""What blocks use of all that is priced: techniques, regions, working time, warmth."""

from __future__ import annotations

import numpy as np

from rondel.planner.blocks import Block, Kind
from rondel.planner.multipliers import Uses
from rondel.planner.table import Floats, Table

_WORKED = (Kind.WORK, Kind.PEAK)


def counts_of(blocks: list[Block], table: Table) -> Uses:
    """Count what every block uses. Shapes (blocks, things)."""
    material, share = table.material, table.prices.min_share
    techniques = np.zeros((len(blocks), len(material.techniques)))
    regions = np.zeros((len(blocks), len(material.region_ids)))
    shortages = np.zeros((len(blocks), 1 + len(material.mains)))
    for i, block in enumerate(blocks):
        techniques[i, list(block.numbers)] = 1.0
        regions[i, block.entry_region] = 1.0
        if block.kind in _WORKED and material.mains:
            shortages[i, 0] = share * block.bars
            shortages[i, 1:] = share * block.bars / len(material.mains)
            if block.main >= 0:
                shortages[i, 0] -= block.bars
                shortages[i, 1 + block.main] -= block.bars
    return Uses(techniques, regions, shortages, warmth_of(blocks, table))


def warmth_of(blocks: list[Block], table: Table) -> Floats:
    """Return how much of the warming that deep work needs each block gives (0 or less) or, at the
    peak, asks for (1 in all). Shape (blocks, regions that may be worked deep)."""
    g = table.grounds
    warmth = np.zeros((len(blocks), max(1, len(g.slots))))
    for i, block in enumerate(blocks):
        for region, bars in block.warmed:
            if region in g.slots and block.kind is not Kind.PEAK:
                warmth[i, g.slots[region]] -= min(1.0, bars / g.warm_need)
        if block.kind is Kind.PEAK and block.deep_region >= 0:
            warmth[i, g.slots[block.deep_region]] = 1.0
    return warmth
