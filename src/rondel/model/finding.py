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
class Change:
    """A key of the brief and its new value; None leaves it out."""

    wish: str
    to: object


@dataclass(frozen=True, slots=True, kw_only=True)
class Loosening:
    """Changes to the brief which, all made together, were planned again and work.

    None of them can be left out. `sentences` are one a wish that is loosened (two of them may
    change the same key); `costs` are sentences on what the routine that was found gives up.
    """

    changes: tuple[Change, ...]
    sentences: tuple[str, ...]
    costs: tuple[str, ...] = ()

    @property
    def says(self) -> str:
        """All that is loosened, in one line."""
        return " And: ".join(self.sentences)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """A routine; or None with the reasons, and wishes that could be loosened.

    `mattered` are sentences on the choices of the routine that mattered most, where asked for.
    """

    routine: Routine | None
    reasons: tuple[str, ...] = ()
    loosen: tuple[Loosening, ...] = ()
    mattered: tuple[str, ...] = ()
