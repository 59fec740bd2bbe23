"""Avoided places stay untouched."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="avoid",
    name="Avoided places stay untouched",
    severity=Severity.MUST,
    says=("No region that the brief avoids is worked or passed over."),
)
