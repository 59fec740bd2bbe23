"""The refrain stays itself."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MAX_PRESSURE = 2

RULE = Rule(
    id="refrain_same",
    name="The refrain stays itself",
    severity=Severity.MUST,
    says=(
        "Every return of the refrain is the same row: techniques, sides, pressures and bars. "
        "Its pressure is 2 or less, and at least one embrace or hold is in it."
    ),
    parameters={"max_pressure": MAX_PRESSURE},
)
