"""Within the level of the couple."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MAX_ABOVE = 2  # levels
LAST_SHARE = 0.3333333333333333  # of the time

RULE = Rule(
    id="level",
    name="Within the level of the couple",
    severity=Severity.MUST,
    says=(
        "No technique lies above the level of the couple, but for at most one stretch passage "
        "(its pair counts once), at most two levels above, that starts in the last third and "
        "before the close, is marked, and is allowed by the brief."
    ),
    parameters={"max_above": MAX_ABOVE, "last_share": LAST_SHARE},
)
