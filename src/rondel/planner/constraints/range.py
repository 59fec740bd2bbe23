"""Pressures and positions that a technique is taught in."""

from rondel.model.repertoire import Technique
from rondel.model.words import Position


def pressures(technique: Technique, cap: int) -> tuple[int, ...]:
    """Return the pressures of the technique that do not pass `cap`, lightest first."""
    low, high = technique.pressure
    return tuple(range(low, min(high, cap) + 1))


def positions(technique: Technique, allowed: tuple[Position, ...]) -> tuple[Position, ...]:
    """Return those of the `allowed` positions in which the technique is taught."""
    return tuple(p for p in allowed if p in technique.position)
