"""Hands travel to neighbours."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="reach",
    name="Hands travel to neighbours",
    severity=Severity.MUST,
    says=(
        "Hands go from a region to itself or a neighbour; or through the refrain, an embrace, "
        "a still hold or an open passage."
    ),
)
