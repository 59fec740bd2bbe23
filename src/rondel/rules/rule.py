"""The shape of one rule of the craft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rondel.model.finding import Severity

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A law of the craft, stated once. `parameters` are its numbers, as `rondel rules` prints them.

    Seconds marked in `scaled` are multiplied by the times scale s = min(1, minutes / 6).
    `with_track` is true for rules that join only when a track is brought.
    """

    id: str
    name: str
    severity: Severity
    says: str
    source: str = COMMON_PRACTICE
    parameters: Mapping[str, object] = field(default_factory=dict)
    scaled: tuple[str, ...] = ()
    with_track: bool = False
    weight: float = 1.0  # what breaking a `mind` rule costs, relative to the others
