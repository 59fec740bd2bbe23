"""The shape of one rule of the craft."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from rondel.model.finding import Severity
from rondel.model.settings import Settings

COMMON_PRACTICE = "common practice, no source"

#: A weight may be changed from nothing to this many times its own (our bound: beyond it one wish
#: drowns all others).
MOST_TIMES_ITS_OWN = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """A law of the craft, stated once. `parameters` are its numbers, as `rondel rules` prints them.

    Seconds marked in `scaled` are multiplied by the times scale s = min(1, minutes / 6).
    `with_track` is true for rules that join only when a track is brought.
    `changeable` names the parameters that a teacher may change, with the least and the most that
    may be set; what keeps people from harm is never among them.
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
    changeable: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    details: tuple[str, ...] = ()  # parameters in sentences, where a row of numbers says little

    @property
    def heaviest(self) -> float:
        """The highest weight that a teacher may give; 0, the lowest, leaves the rule unminded."""
        return MOST_TIMES_ITS_OWN * self.weight

    def weight_in(self, settings: Settings) -> float:
        """Return the weight in force; that of a must is always its own."""
        if self.severity is Severity.MUST:
            return self.weight
        return settings.weight(self.id, self.weight)

    def number_in(self, settings: Settings, name: str) -> float:
        """Return the parameter `name`, one number, in force; KeyError if there is none.

        What is not `changeable` is always the rule's own.
        """
        own = self.parameters[name]
        assert isinstance(own, int | float)
        return settings.number(self.id, name, own) if name in self.changeable else own
