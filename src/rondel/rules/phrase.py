"""On the phrase."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="phrase",
    name="On the phrase",
    severity=Severity.MIND,
    says=("With a track: passages begin on its phrases."),
    with_track=True,
    weight=3.0,
)
