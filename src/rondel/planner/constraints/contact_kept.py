"""A hand stays on the body between neighbours."""

from rondel.model.repertoire import Craft
from rondel.rules.contact_kept import RULE

COST = RULE.weight


def is_kept(craft: Craft, leaving: str, entering: str) -> bool:
    """True where a hand can stay while the other finds the next place."""
    return (
        craft.are_neighbours(leaving, entering)
        or entering in craft.region(leaving).covers
        or leaving in craft.region(entering).covers
    )


def leaves(craft: Craft, leaving: str, entering: str) -> bool:
    """True where both hands surely leave the body: no place that either stroke passes over lies
    next to one of the other's. Less is left so than costs, as a hand may stay at the edge."""
    there = (entering, *craft.region(entering).covers)
    here = (leaving, *craft.region(leaving).covers)
    return not any(craft.are_neighbours(a, b) for a in here for b in there)


def cost(craft: Craft, leaving: str, entering: str) -> float:
    """Return what going from one region to the other costs."""
    return 0.0 if is_kept(craft, leaving, entering) else RULE.weight
