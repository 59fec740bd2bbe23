"""Ending together."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="ending",
    name="Ending together",
    severity=Severity.MUST,
    says=(
        "With a track: the routine ends with the music, within a bar; music that is cut off "
        "before the end of the track fades out."
    ),
    with_track=True,
)
