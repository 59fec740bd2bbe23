"""The shape of the session."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="curve",
    name="The shape of the session",
    severity=Severity.MIND,
    says=("Pressure and energy follow the curves of the intention."),
    source="common practice, no source; faster music arouses: Bernardi 2006, Heart 92:445-452",
    weight=4.0,
)
