"""Ending together."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="ending",
    name="Ending together",
    severity=Severity.MUST,
    says=("With a track: the routine ends with the music."),
    with_track=True,
)
