"""Cautions are obeyed."""

from rondel.model.finding import Severity
from rondel.rules.rule import Rule

RULE = Rule(
    id="cautions",
    name="Cautions are obeyed",
    severity=Severity.MUST,
    says=("What a caution forbids is not there: region, family, contact, position or pressure."),
    source="per caution: see `rondel cautions`",
)
