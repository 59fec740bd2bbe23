"""Where a routine breaks or strains a rule, and what a plan came to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rondel.model.routine import Routine


class Severity(StrEnum):
    """`must`: a routine that breaks it is not offered. `mind`: it costs."""

    MUST = "must"
    MIND = "mind"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One sentence about one place: bar `at_bar` of the routine."""

    rule: str
    severity: Severity
    at_bar: int
    message: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Loosening:
    """One wish which, changed alone in the brief (None: left out), was planned again and works."""

    wish: str
    to: object
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A routine; or None with the reasons, and wishes that could be loosened.

    `mattered` are sentences on the choices of the routine that mattered most, where asked for.
    """

    routine: Routine | None
    reasons: tuple[str, ...] = ()
    loosen: tuple[Loosening, ...] = ()
    mattered: tuple[str, ...] = ()
