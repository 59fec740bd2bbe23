"""Deep work is answered by rest."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

SHARE = 0.5  # of the deep run
MAX_PRESSURE = 2

RULE = Rule(
    id="rest",
    name="Deep work is answered by rest",
    severity=Severity.MUST,
    says=(
        "Deep work is followed at once by pressure 2 or less on the same region and side, or "
        "by the refrain, for at least half as long as the deep run lasted. The rest belongs "
        "to its side, before the other side begins."
    ),
    parameters={"share": SHARE, "max_pressure": MAX_PRESSURE},
)
