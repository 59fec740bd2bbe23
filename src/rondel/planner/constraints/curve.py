"""Distance from the intention's curves, minute by minute."""

from rondel.planner.curves import Shape
from rondel.rules.curve import RULE

PRESSURE_COUNTS = 0.2  # a minute one level away costs 0.8
WEIGHT = RULE.weight
ENERGY_COUNTS = 0.4  # a minute half the range away costs 1.6


def cost(
    shape: Shape,
    start: int,
    end: int,
    *,
    pressure: int,
    energy: float,
    closeness: float,
    bar_minutes: float,
) -> float:
    """Return what the bars from `start` to `end` cost at one counted pressure and energy."""
    bars = end - start
    pressures = (
        bars * pressure * pressure
        - 2 * pressure * (shape.pressure[end] - shape.pressure[start])
        + shape.pressure_squares[end]
        - shape.pressure_squares[start]
    )
    energies = (
        bars * energy * energy
        - 2 * energy * (shape.energy[end] - shape.energy[start])
        + shape.energy_squares[end]
        - shape.energy_squares[start]
    )
    apart = PRESSURE_COUNTS * pressures + ENERGY_COUNTS * energies
    apart += shape.closeness_counts * (1 - closeness) * bars
    return WEIGHT * bar_minutes * apart
