"""A take by its name."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.model.take import Seen


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedTake:
    """A take called `name`, and what was seen in it. `technique`: what it shows, where the teacher
    has named that for the whole of it."""

    name: str
    seen: Seen
    technique: str | None = None
