"""Never above the safe pressure."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

LEVEL_LIMITS = {1: 3, 2: 4, 3: 4, 4: 4, 5: 4}  # highest pressure of a lay couple, by level
TRAINED_LEVEL_LIMITS = {1: 4, 2: 4, 3: 4, 4: 5, 5: 5}

RULE = Rule(
    id="limits",
    name="Never above the safe pressure",
    severity=Severity.MUST,
    says=(
        "Pressure is never above what the region, the level and the cautions allow a lay "
        "hand, or a trained one where the brief says so."
    ),
    source=(
        "Walton, Medical Conditions and Massage Therapy (pressure scale, "
        "secondary); Werner 2020 (sites); lay caps: common practice, no source"
    ),
    parameters={
        "level_limits": LEVEL_LIMITS,
        "trained_level_limits": TRAINED_LEVEL_LIMITS,
    },
)
