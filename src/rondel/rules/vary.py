"""Variety."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="vary",
    name="Variety",
    severity=Severity.MIND,
    says=("Techniques, contacts and families vary, and neighbours load different contacts."),
    weight=2.0,
)
