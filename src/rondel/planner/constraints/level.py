"""The couple's level, and the one stretch passage above it."""

from __future__ import annotations

import math
from fractions import Fraction

from rondel.model.brief import Brief
from rondel.model.repertoire import Technique
from rondel.planner.frame import Frame
from rondel.rules.level import MAX_ABOVE


def allows(technique: Technique, brief: Brief) -> bool:
    """True where the technique is within the level."""
    return technique.level <= brief.level


def may_stretch(technique: Technique, brief: Brief) -> bool:
    """True where the technique may be the one stretch passage."""
    return brief.stretch and 0 < technique.level - brief.level <= MAX_ABOVE


def first_stretch_bar(frame: Frame) -> int:
    """Return the first bar of the last third."""
    return math.ceil(Fraction(2 * frame.bars, 3) + frame.astray)
