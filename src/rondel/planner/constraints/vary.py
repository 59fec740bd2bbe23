"""Variety of techniques, contacts and families from block to block."""

from rondel.rules.vary import RULE

CONTACT = 0.2 * RULE.weight  # the next block loads the same contact
FAMILY = 0.15 * RULE.weight  # the next block is of the same family
AGAIN = 0.35 * RULE.weight  # the technique was here before, up to three times
MOST_AGAIN = 3


def again(uses_before: int, minutes: float) -> float:
    """Return what a technique costs that was used `uses_before` times; long forms forgive more."""
    return AGAIN * min(uses_before, MOST_AGAIN) * min(1.0, 15 / minutes)
