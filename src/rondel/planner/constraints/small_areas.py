"""Wide strokes come before small ones on the same region."""

from rondel.model.repertoire import Craft, Technique
from rondel.rules.small_areas import LONG_CM, RULE

COST = RULE.weight


def long_cm(craft: Craft) -> float:
    """Return from where on a stroke is long, as the teacher has it."""
    return RULE.number_in(craft.settings, "long_cm")


def is_wide(technique: Technique, least_cm: float = LONG_CM) -> bool:
    """True for a long stroke."""
    return technique.path_cm >= least_cm


def is_small(technique: Technique, least_cm: float = LONG_CM) -> bool:
    """True for work on a small area; a hold asks for nothing wide before it."""
    return not is_wide(technique, least_cm) and not technique.family.is_held


def regions_with_wide(craft: Craft, least_cm: float = LONG_CM) -> frozenset[str]:
    """Return the regions for which the repertoire has a long stroke at all."""
    return frozenset(t.region for t in craft.techniques if is_wide(t, least_cm))
