"""The refrain keeps coming home."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MIN_GAP_SECONDS = 45
MIN_GAP_SHARE = 0.3333333333333333  # of g
MAX_GAP_SHARE = 1.8  # of g

RULE = Rule(
    id="refrain_spacing",
    name="The refrain keeps coming home",
    severity=Severity.MUST,
    says=(
        "The refrain returns as often as asked. With g = minutes / (returns + 1), from the "
        "end of one return to the start of the next there are at least the lesser of 45 "
        "seconds and a third of g, and at most 1.8 g; and at most 1.8 g before the first "
        "return and after the last."
    ),
    parameters={
        "min_gap_seconds": MIN_GAP_SECONDS,
        "min_gap_share": MIN_GAP_SHARE,
        "max_gap_share": MAX_GAP_SHARE,
    },
    scaled=("min_gap_seconds",),
)
