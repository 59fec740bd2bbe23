"""Changes with the music."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

WITHIN_BARS = 1

RULE = Rule(
    id="turns",
    name="Changes with the music",
    severity=Severity.MIND,
    says=("With a track: changes lie within a bar of sections and rises."),
    parameters={"within_bars": WITHIN_BARS},
    with_track=True,
    weight=3.0,
)
