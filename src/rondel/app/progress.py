"""How long work tells of itself, without knowing who listens."""

from __future__ import annotations

from typing import Protocol


class Progress(Protocol):
    """Told of each stage, in order. `total` counts whatever units the stage counts in."""

    def begin(self, stage: str, total: float) -> None:
        """A stage with a name a teacher understands begins."""

    def advance(self, done: float) -> None:
        """`done` more units are finished. May raise KeyboardInterrupt to stop between units."""

    def end(self) -> None:
        """The stage that began last is finished."""


class Silent:
    """Progress that nobody watches."""

    def begin(self, stage: str, total: float) -> None: ...

    def advance(self, done: float) -> None: ...

    def end(self) -> None: ...
