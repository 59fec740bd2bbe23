"""One peak."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

MIDDLE = (0.55, 0.85)  # share of the time
MAX_SECONDS = 240
MAX_SHARE = 0.16666666666666666  # of a long form

RULE = Rule(
    id="peak",
    name="One peak",
    severity=Severity.MUST,
    says=(
        "There is one peak, in one row with its rests and its pair. Its highest pressure is "
        "the highest of the routine, and when deep it occurs nowhere else; when it is 3, the "
        "peak is the longest row at 3. Where everything stays at 2 or less, the peak is where "
        "energy is highest. Its middle lies between 55 and 85 percent of the time, and it "
        "lasts at most four minutes, or a sixth of a long form."
    ),
    parameters={"middle": MIDDLE, "max_seconds": MAX_SECONDS, "max_share": MAX_SHARE},
    scaled=("max_seconds",),
)
