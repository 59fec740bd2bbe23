"""Spared hands stay spared."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="spare",
    name="Spared hands stay spared",
    severity=Severity.MUST,
    says=("No contact that the brief spares is used."),
)
