"""Spared contacts are taken out of the repertoire before the search begins."""

from rondel.model.brief import Brief
from rondel.model.repertoire import Technique


def allows(technique: Technique, brief: Brief) -> bool:
    """True where the technique does not load a contact that the brief spares."""
    return technique.contact not in brief.spare
