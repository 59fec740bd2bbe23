"""Not the same again at once."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MAX_TIMES = 3
PER_MINUTES = 15

RULE = Rule(
    id="repeat",
    name="Not the same again at once",
    severity=Severity.MIND,
    says=(
        "The same technique does not return in the next block, and none outside the refrain "
        "comes more than three times in 15 minutes."
    ),
    parameters={"max_times": MAX_TIMES, "per_minutes": PER_MINUTES},
    changeable={"max_times": (1, 10), "per_minutes": (5, 60)},
    weight=6.0,
)
