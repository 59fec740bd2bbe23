"""No hand works deep too long."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MAX_SECONDS = 120

RULE = Rule(
    id="load",
    name="No hand works deep too long",
    severity=Severity.MUST,
    says=("No contact works deep for more than two minutes in a row."),
    parameters={"max_seconds": MAX_SECONDS},
)
