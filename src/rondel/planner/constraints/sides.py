"""Lateral work comes as a pair; other work on both sides or on the middle line."""

from rondel.model.repertoire import Craft, Technique
from rondel.model.words import Side, Trace


def sides(technique: Technique, craft: Craft) -> tuple[Side, ...]:
    """Return the sides of a whole block of the technique, in order.

    A technique that is not lateral is done on the middle line where it stays on the spot of a
    region that has no sides, else on both sides at once.
    """
    if technique.lateral:
        return (Side.LEFT, Side.RIGHT)
    if not craft.region(technique.region).lateral and technique.trace in (Trace.SPOT, Trace.CIRCLE):
        return (Side.CENTRE,)
    return (Side.BOTH,)
