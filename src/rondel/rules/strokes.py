"""Whole strokes on the beat."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="strokes",
    name="Whole strokes on the beat",
    severity=Severity.MUST,
    says=(
        "A passage holds a whole number of strokes; one stroke is a whole number of beats, or "
        "half a beat where the technique is that quick; its seconds lie in the range the "
        "technique is taught at; the first landing lies within the passage. A hold or an "
        "embrace is one stroke as long as itself."
    ),
)
