"""Few turnings over."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

FIRST_MINUTES = 20
EACH_MINUTES = 15  # one more change for each
SECONDS = 12

RULE = Rule(
    id="positions",
    name="Few turnings over",
    severity=Severity.MUST,
    says=(
        "The receiver changes position at most once in 20 minutes, once more for each 15 "
        "beyond; only at the start or end of a refrain or at an open passage, with at least "
        "12 seconds in which nothing is asked of the hands but to help."
    ),
    parameters={"first_minutes": FIRST_MINUTES, "each_minutes": EACH_MINUTES, "seconds": SECONDS},
    scaled=("seconds",),
)
