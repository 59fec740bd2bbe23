"""Hand after hand on the beat."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="rhythm",
    name="Hand after hand on the beat",
    severity=Severity.MIND,
    says=(
        "At least one passage of alternating hands is on the beat, where the music has one "
        "(not for sleep)."
    ),
    weight=4.0,
)
