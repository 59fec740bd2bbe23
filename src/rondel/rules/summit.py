"""The peak in the strongest section."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

#: So much of the peak, or of the section where that is the shorter, lies in the other.
SHARE = 0.5

RULE = Rule(
    id="summit",
    name="The peak in the strongest section",
    severity=Severity.MUST,
    says=(
        "With a track: at least half of the peak stands in the strongest section, or half of "
        "that section in the peak where it is shorter; a wish only, where sections hardly differ."
    ),
    parameters={"share": SHARE},
    with_track=True,
)
