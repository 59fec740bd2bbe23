"""Both sides alike."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="sides",
    name="Both sides alike",
    severity=Severity.MUST,
    says=(
        "What is done on one side is done on the other: two neighbouring blocks with the same "
        "techniques, pressures and lengths, left and right in either order."
    ),
)
