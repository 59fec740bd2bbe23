"""Home with its motif."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="home",
    name="Home with its motif",
    severity=Severity.MIND,
    says=("With a track: the refrain stands on returns of the motif."),
    with_track=True,
    weight=4.0,
)
