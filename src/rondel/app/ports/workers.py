"""Whoever makes many sessions side by side: processes of this machine, or others elsewhere."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeAlias

from rondel.app.make_session import Made


@dataclass(frozen=True, slots=True, kw_only=True)
class StageBegan:
    """A stage of one session begins; `total` in whatever units it counts."""

    stage: str
    total: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StageAdvanced:
    """`done` more units of the stage are finished."""

    done: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StageEnded:
    """The stage that began last is finished."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """One session is over: `made`, or not, for the reason that `says` gives as a sentence."""

    made: Made | None = None
    says: str = ""
    exit_code: int = 0


Event: TypeAlias = StageBegan | StageAdvanced | StageEnded | Ended


class Workers(Protocol):
    """Makes sessions from orders. An order is bytes that the worker understands."""

    def run(self, orders: Sequence[bytes]) -> Generator[tuple[int, Event], None, None]:
        """Yield (number of the order, what happened); each order has one `Ended`, its last.

        Closing the generator stops what is under way: what is finished is kept, and nothing is
        left half written. Raises BadInput or OutsideFailure where nobody can work at all.
        """
        ...


class Watch(Protocol):
    """Is told of all that happens."""

    def tell(self, number: int, event: Event) -> None: ...
