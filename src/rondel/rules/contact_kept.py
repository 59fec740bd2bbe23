"""A hand stays."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="contact_kept",
    name="A hand stays",
    severity=Severity.MIND,
    says=("Between neighbours a hand stays on the body, unless the position changes."),
    weight=1.0,
)
