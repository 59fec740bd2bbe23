"""A soft close."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

SECONDS = 60
MAX_PRESSURE = 2

RULE = Rule(
    id="close",
    name="A soft close",
    severity=Severity.MUST,
    says=(
        "The last 60 seconds stay at pressure 2 or less, and the last passage is a hold, a "
        "glide or an embrace."
    ),
    parameters={"seconds": SECONDS, "max_pressure": MAX_PRESSURE},
    scaled=("seconds",),
)
