"""The highest safe pressure of a technique for these hands on this body."""

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft, Technique
from rondel.planner.constraints import cautions
from rondel.rules.limits import LEVEL_LIMITS, TRAINED_LEVEL_LIMITS

__all__ = ["LEVEL_LIMITS", "TRAINED_LEVEL_LIMITS", "allows", "cap"]


def allows(technique: Technique, craft: Craft) -> bool:
    """True where the region bears the technique's stroke family at all."""
    return technique.family not in craft.region(technique.region).forbidden_families


def cap(technique: Technique, brief: Brief, craft: Craft) -> int:
    """Return the least of the limits of region, level and cautions."""
    region = craft.region(technique.region)
    by_region = region.trained_limit if brief.trained else region.limit
    by_level = (TRAINED_LEVEL_LIMITS if brief.trained else LEVEL_LIMITS)[brief.level]
    return min(by_region, by_level, cautions.cap(technique, brief, craft))
