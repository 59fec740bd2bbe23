"""One passage of alternating hands on the beat."""

from rondel.model.repertoire import Technique
from rondel.model.words import Intention
from rondel.rules.rhythm import RULE

COST = RULE.weight


def is_asked(intention: Intention) -> bool:
    """True but for sleep."""
    return intention is not Intention.SLEEP


def gives(technique: Technique) -> bool:
    """True where the technique goes hand after hand."""
    return technique.is_alternating
