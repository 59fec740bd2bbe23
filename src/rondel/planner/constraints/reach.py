"""Where hands may travel from one passage to the next."""

from rondel.model.repertoire import Technique
from rondel.model.words import Family


def frees(technique: Technique | None, pressure: int) -> bool:
    """True for what lets the hands come from anywhere: open bars, an embrace, a still hold."""
    if technique is None or technique.family is Family.EMBRACE:
        return True
    return technique.family is Family.HOLDING and pressure == 0
