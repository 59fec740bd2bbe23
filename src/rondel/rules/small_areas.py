"""Wide before small."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

LONG_CM = 20  # a stroke path this long is wide

RULE = Rule(
    id="small_areas",
    name="Wide before small",
    severity=Severity.MIND,
    says=("Long strokes come before small areas on the same region."),
    parameters={"long_cm": LONG_CM},
    changeable={"long_cm": (10, 40)},
    weight=2.0,
)
