"""What a teacher may ask of one passage of a routine.

`passage` is the id of any passage of what she means: of either side of a pair, of deep work or its
rest, of any return of the refrain.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from rondel.model.words import Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """The root of all edits."""

    passage: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengthen(Edit):
    """Let it last longer by `seconds` on each side; None: by about a quarter of a minute."""

    seconds: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shorten(Edit):
    """Let it last less long by `seconds` on each side; None: by about a quarter of a minute."""

    seconds: Fraction | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Move(Edit):
    """Let it start at `to_seconds` from the beginning of the routine, within one bar."""

    to_seconds: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Swap(Edit):
    """Do another technique in its place."""

    technique: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Begin(Edit):
    """Begin on `side`; None: on the other side than now."""

    side: Side | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Press(Edit):
    """Do it at another pressure."""

    pressure: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Insist(Edit):
    """Keep it as it is, whatever else changes later."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Free(Edit):
    """Insist on it no longer; bars left open may be planned again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaveOpen(Edit):
    """Leave its bars free."""
