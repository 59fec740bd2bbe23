"""Pressure rises step by step."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MAX_STEP = 1
STILL_COUNTS = 1
OPEN_COUNTS = 2

RULE = Rule(
    id="rise",
    name="Pressure rises step by step",
    severity=Severity.MUST,
    says=(
        "From one passage to the next, pressure rises by at most one. The second block of a "
        "pair repeats the first, so its first passage is exempt. A still hold counts as 1, an "
        "open passage as 2, and the refrain as its firmest passage."
    ),
    parameters={"max_step": MAX_STEP, "still_counts": STILL_COUNTS, "open_counts": OPEN_COUNTS},
)
