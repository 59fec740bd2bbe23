"""The asked time, without gaps."""

from rondel.model.finding import Severity
from rondel.model.words import Intention
from rondel.rules.rule import Rule

TOLERANCE_SECONDS = 0.5  # where the tempo is free
MAX_NUDGE = 0.015  # share by which a free tempo may be nudged
#: Beats a minute where the brief fixes none: slow for sleep, bright for waking.
NOMINAL_BPM = {
    Intention.SETTLE: 60,
    Intention.WAKE: 72,
    Intention.SLEEP: 54,
    Intention.CLOSENESS: 58,
}
ORDINARY_SECONDS = (30, 120)  # an ordinary passage, a side
REST_SECONDS = (15, 60)
REFRAIN_SECONDS = (30, 75)  # one return
ARRIVE_SECONDS = (15, 60)  # the arrival

RULE = Rule(
    id="length",
    name="The asked time, without gaps",
    severity=Severity.MUST,
    says=(
        "Passages follow each other without a gap from the first bar to the last, and the "
        "routine lasts the asked time: within half a second where the tempo is free, within "
        "one bar where the brief or a track fixes it. A free tempo is the usual one of the "
        "intention, nudged by at most 1.5 percent."
    ),
    parameters={
        "tolerance_seconds": TOLERANCE_SECONDS,
        "max_nudge": MAX_NUDGE,
        "beats_a_minute": {str(i): bpm for i, bpm in NOMINAL_BPM.items()},
        "ordinary_seconds": ORDINARY_SECONDS,
        "rest_seconds": REST_SECONDS,
        "refrain_seconds": REFRAIN_SECONDS,
        "arrive_seconds": ARRIVE_SECONDS,
    },
    scaled=(
        "ordinary_seconds.low",
        "rest_seconds.low",
        "refrain_seconds.low",
        "arrive_seconds.low",
    ),
)
