"""Calming glides stay slow for small and for large bodies."""

from __future__ import annotations

import math

from rondel.model.repertoire import Technique
from rondel.model.words import Family, Intention
from rondel.rules.speed import CM_PER_SECOND, RULE

#: Waist back length of a small woman and of a large man (mean ∓ 2 SD) over the mean of the two
#: means; ANSUR II 2012 (Gordon et al. 2014): 425.4 (26.4) and 477.6 (27.7) mm.
_MEAN_MM = (425.4 + 477.6) / 2
SMALL_BODY = (425.4 - 2 * 26.4) / _MEAN_MM
LARGE_BODY = (477.6 + 2 * 27.7) / _MEAN_MM


def strain(
    technique: Technique, pressure: int, stroke_seconds: float, intention: Intention
) -> float:
    """Return 0 where the rule holds or does not apply, else how far (log) a body is beyond it."""
    calm = intention in (Intention.SETTLE, Intention.SLEEP)
    if not calm or technique.family is not Family.GLIDING or pressure > 2 or not technique.path_cm:
        return 0.0
    mean = float(technique.path_cm) / stroke_seconds
    low, high = CM_PER_SECOND
    return min(1.0, max(0.0, math.log(mean * LARGE_BODY / high), math.log(low / mean / SMALL_BODY)))


def cost(technique: Technique, pressure: int, stroke_seconds: float, intention: Intention) -> float:
    """Return what one passage costs."""
    return RULE.weight * strain(technique, pressure, stroke_seconds, intention)
