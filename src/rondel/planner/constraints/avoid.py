"""Avoided regions, and whatever passes over them, are taken out before the search begins."""

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft, Technique


def touches(technique: Technique, regions: tuple[str, ...], craft: Craft) -> bool:
    """True where the technique works on one of `regions`, or its region covers one."""
    region = craft.region(technique.region)
    return region.id in regions or any(r in regions for r in region.covers)


def allows(technique: Technique, brief: Brief, craft: Craft) -> bool:
    """True where no avoided region is worked or passed over."""
    return not touches(technique, brief.avoid_regions, craft)
