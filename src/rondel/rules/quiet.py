"""Quiet where the track is quiet."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="quiet",
    name="Quiet where the track is quiet",
    severity=Severity.MUST,
    says=(
        "With a track: the opening lies where no beat is heard, as far as the track has such "
        "a span at its start."
    ),
    with_track=True,
)
