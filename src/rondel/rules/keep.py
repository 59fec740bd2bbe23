"""What is insisted on stands."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

TOLERANCE_BARS = 1

RULE = Rule(
    id="keep",
    name="What is insisted on stands",
    severity=Severity.MUST,
    says=(
        "What the teacher insists on stands: the technique, its start within one bar, its "
        "length about, its side and its pressure."
    ),
    parameters={"tolerance_bars": TOLERANCE_BARS},
)
