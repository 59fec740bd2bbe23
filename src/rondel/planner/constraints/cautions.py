"""What a caution forbids is taken out before the search begins."""

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft, Technique
from rondel.model.words import Position
from rondel.planner.constraints import avoid


def allows(technique: Technique, brief: Brief, craft: Craft) -> bool:
    """True where no caution of the brief forbids the technique's region, family or contact."""
    for id in brief.cautions:
        forbids = craft.caution(id).forbids
        if (
            forbids.everything
            or technique.family in forbids.families
            or technique.contact in forbids.contacts
            or avoid.touches(technique, forbids.regions, craft)
        ):
            return False
    return True


def allows_position(position: Position, brief: Brief, craft: Craft) -> bool:
    """True where no caution of the brief forbids the receiver to lie or sit so."""
    return all(position not in craft.caution(id).forbids.positions for id in brief.cautions)


def cap(technique: Technique, brief: Brief, craft: Craft) -> int:
    """Return the highest pressure that the cautions leave for the technique.

    A limit on a region also binds a stroke that passes over it.
    """
    region = craft.region(technique.region)
    met = (region.id, *region.covers)
    highest = 5
    for id in brief.cautions:
        forbids = craft.caution(id).forbids
        highest = min(highest, forbids.max_pressure)
        for name, limit in forbids.region_limits:
            if name in met:
                highest = min(highest, limit)
    return highest
