"""Home with its motif."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

WITHIN_BARS = 1

RULE = Rule(
    id="home",
    name="Home with its motif",
    severity=Severity.MIND,
    says=(
        "With a track: the refrain begins within a bar of a return of the motif, where the track "
        "has any."
    ),
    parameters={"within_bars": WITHIN_BARS},
    with_track=True,
    weight=4.0,
)
