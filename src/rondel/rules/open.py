"""Time left free."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MIN_SECONDS = 30
TOLERANCE_BARS = 1

RULE = Rule(
    id="open",
    name="Time left free",
    severity=Severity.MUST,
    says=(
        "The minutes left free are there, within one bar, as open passages of at least 30 seconds."
    ),
    parameters={"min_seconds": MIN_SECONDS, "tolerance_bars": TOLERANCE_BARS},
    scaled=("min_seconds",),
)
