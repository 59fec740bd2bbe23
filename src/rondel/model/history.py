"""The versions of a routine: which there were, and which one stands now.

Steps are only ever added after the one that stands; what had been taken back is then left behind.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One version. `version` names its text (a digest); `says` is what was done to come to it, in
    a sentence, and `moved` what else changed with it."""

    version: str
    says: str
    moved: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """All steps in order, and the place of the one that stands. There is always at least one.

    Raises ValueError for a place that is not there.
    """

    steps: tuple[Step, ...]
    at: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.at < len(self.steps):
            raise ValueError("a history stands at one of its steps")

    @property
    def now(self) -> Step:
        return self.steps[self.at]

    @property
    def before(self) -> Step | None:
        """The step that `back` goes to; None at the first."""
        return self.steps[self.at - 1] if self.at else None

    @property
    def undone(self) -> Step | None:
        """The step that `on` goes to; None where nothing was taken back."""
        return self.steps[self.at + 1] if self.at + 1 < len(self.steps) else None

    def then(self, step: Step) -> History:
        """Return the history with `step` done after the one that stands."""
        return History(steps=(*self.steps[: self.at + 1], step), at=self.at + 1)

    def back(self) -> History:
        """Return the history with the last step taken back; as it is at the first."""
        return replace(self, at=max(0, self.at - 1))

    def on(self) -> History:
        """Return the history with the step done again that was taken back; as it is if none was."""
        return replace(self, at=min(len(self.steps) - 1, self.at + 1))
