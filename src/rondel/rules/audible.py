"""Rhythm where it can be heard."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="audible",
    name="Rhythm where it can be heard",
    severity=Severity.MUST,
    says=(
        "With a track: what is struck, or goes hand after hand, stands only where a beat is heard."
    ),
    with_track=True,
)
