"""Calming glides are slow."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

CM_PER_SECOND = (1, 10)

RULE = Rule(
    id="speed",
    name="Calming glides are slow",
    severity=Severity.MIND,
    says=(
        "Calming glides (pressure 2 or less, to settle or to sleep) move at 1 to 10 cm a "
        "second, for small and large bodies."
    ),
    source=(
        "Löken et al. 2009, Nature Neuroscience 12:547-548; body sizes: ANSUR "
        "II (Gordon et al. 2014)"
    ),
    parameters={
        "cm_per_second": CM_PER_SECOND,
    },
    weight=4.0,
)
