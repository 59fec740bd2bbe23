"""Which rows may be the refrain. One row is chosen before the search, so returns are alike."""

from rondel.model.repertoire import Technique
from rondel.rules.refrain_same import MAX_PRESSURE


def allows(pressure: int) -> bool:
    """True where a passage is light enough for the refrain."""
    return pressure <= MAX_PRESSURE


def is_home(row: tuple[Technique, ...]) -> bool:
    """True where a hold or an embrace is in the row."""
    return any(t.family.is_held for t in row)
