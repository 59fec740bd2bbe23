"""Most work where it is wanted."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MIN_SHARE = 0.5

RULE = Rule(
    id="focus",
    name="Most work where it is wanted",
    severity=Severity.MIND,
    says=("The main regions get at least half of the time outside refrain, opening and close."),
    parameters={"min_share": MIN_SHARE},
    changeable={"min_share": (0.2, 0.9)},
    weight=8.0,
)
