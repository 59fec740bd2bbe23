"""Within what is taught."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="range",
    name="Within what is taught",
    severity=Severity.MUST,
    says=(
        "Pressure lies in the range of the technique, and the receiver lies or sits in one of "
        "its positions."
    ),
)
