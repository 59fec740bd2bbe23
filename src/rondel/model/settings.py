"""What one teacher changed in the rule book: weights, and numbers that are a matter of taste.

Held are the changes only, so that a rule keeps its own number wherever nothing was changed. Which
rules and numbers may be changed at all, and within what bounds, is stated by the rules themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The changes, in order of rule and name, so that equal changes are equal settings.

    `weights` are (rule, weight), `numbers` (rule, name, number). The empty settings change nothing.
    """

    weights: tuple[tuple[str, float], ...] = ()
    numbers: tuple[tuple[str, str, float], ...] = ()

    def __post_init__(self) -> None:
        """Put the changes in order; ValueError where a thing is changed twice."""
        object.__setattr__(self, "weights", tuple(sorted(self.weights)))
        object.__setattr__(self, "numbers", tuple(sorted(self.numbers)))
        names = [(rule,) for rule, _ in self.weights]
        names_too = [(rule, name) for rule, name, _ in self.numbers]
        if len(set(names)) < len(names) or len(set(names_too)) < len(names_too):
            raise ValueError("a number of the rule book may be changed once only")

    def weight(self, rule: str, default: float) -> float:
        """Return the weight of `rule`: as changed, else `default`, its own."""
        return next((w for r, w in self.weights if r == rule), default)

    def number(self, rule: str, name: str, default: float) -> float:
        """Return the number `name` of `rule`: as changed, else `default`, its own."""
        return next((n for r, k, n in self.numbers if (r, k) == (rule, name)), default)

    def of(self, rule: str) -> Mapping[str, float]:
        """Return all that is changed of `rule`, by name; a changed weight is called `weight`."""
        rows = [*((r, "weight", w) for r, w in self.weights), *self.numbers]
        return {name: number for r, name, number in rows if r == rule}


UNCHANGED = Settings()
