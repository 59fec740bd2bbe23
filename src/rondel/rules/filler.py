"""One new place near the end."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

LAST_SHARE = 0.25  # of the time
MAX_PRESSURE = 2

RULE = Rule(
    id="filler",
    name="One new place near the end",
    severity=Severity.MIND,
    says=("One region not yet touched is met, short and light, in the last quarter."),
    parameters={"last_share": LAST_SHARE, "max_pressure": MAX_PRESSURE},
    changeable={"last_share": (0.1, 0.5)},
    weight=3.0,
)
