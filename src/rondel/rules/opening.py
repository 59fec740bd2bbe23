"""A quiet opening.

Each giver finds a tempo of their own before the music gives one.
"""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

SECONDS = 90
MAX_PRESSURE = 2

RULE = Rule(
    id="opening",
    name="A quiet opening",
    severity=Severity.MUST,
    says=(
        "The first 90 seconds stay at pressure 2 or less, with gliding, holding or an embrace "
        "only, and no beat is heard."
    ),
    parameters={"seconds": SECONDS, "max_pressure": MAX_PRESSURE},
    scaled=("seconds",),
)
