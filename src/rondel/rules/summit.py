"""The peak in the strongest section."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="summit",
    name="The peak in the strongest section",
    severity=Severity.MUST,
    says=(
        "With a track: the peak stands in the strongest section; a wish only, where sections "
        "hardly differ."
    ),
    with_track=True,
)
