"""Avoided regions, and whatever passes over them, are taken out before the search begins."""

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft, Technique


def touches(technique: Technique, regions: tuple[str, ...], craft: Craft) -> bool:
    """True where the technique works on one of `regions`, on a part of one, or passes over one."""
    region = craft.region(technique.region)
    parts = {part for r in regions if craft.has_region(r) for part in craft.region(r).covers}
    return region.id in (*regions, *parts) or any(r in regions for r in region.covers)


def allows(technique: Technique, brief: Brief, craft: Craft) -> bool:
    """True where no avoided region is worked or passed over."""
    return not touches(technique, brief.avoid_regions, craft)
