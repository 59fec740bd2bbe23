"""Warm before deep."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

SECONDS = 60
PRESSURES = (1, 3)

RULE = Rule(
    id="warm",
    name="Warm before deep",
    severity=Severity.MUST,
    says=(
        "Before a region is worked deep, that region, on the same side or on both, has had at "
        "least 60 seconds at pressure 1 to 3."
    ),
    parameters={"seconds": SECONDS, "pressures": PRESSURES},
    scaled=("seconds",),
)
