"""What one home after another is asked, and who may help with it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Protocol

from rondel.planner.contest import Setting, Whole
from rondel.planner.multipliers import Multipliers


class Task(Enum):
    """What is done with a home."""

    PREPARE = "prepare"  # set it up, without what is of no more use
    AFRESH = "afresh"  # look narrowly for a plan that need not be better, and better it
    JUDGE = "judge"  # search, half-made plans judged under many prices


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One task. `best` is the cost of the best plan known, `start` prices to begin from, `prices`
    those under which half-made plans are judged; `seeks` more are sought. With `every_position`,
    the receiver may lie in any way, not only in the few usual ones."""

    task: Task
    setting: Setting
    best: float
    start: Multipliers
    width: int = 0
    prices: tuple[Multipliers, ...] = ()
    seeks: int = 0
    every_position: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What came of a step: no plan with its home costs less than `bound`; a `plan` that is better
    than the best known, if one was met; prices, those that told most first."""

    step: Step
    bound: float
    plan: Whole | None
    prices: tuple[Multipliers, ...]


class Crew(Protocol):
    """Helpers of the one who plans, each with networks of its own."""

    @property
    def size(self) -> int:
        """How many helpers there are."""

    def is_there(self, helper: int) -> bool:
        """False where a helper has died."""

    def start(self, helper: int, step: Step) -> None:
        """Give a helper a step; what it was given before is done first."""

    def done(self, helper: int, seconds: float) -> Done | None:
        """Return what came of the helper's next step; None where it takes longer than that. Of
        steps that a helper died of nothing is known."""


class NoCrew:
    """Nobody helps."""

    size = 0

    def is_there(self, helper: int) -> bool:
        return False

    def start(self, helper: int, step: Step) -> None:
        raise NotImplementedError

    def done(self, helper: int, seconds: float) -> Done | None:
        raise NotImplementedError


def nothing_known(step: Step) -> Done:
    """Return that nothing came of a step."""
    return Done(step=step, bound=-math.inf, plan=None, prices=step.prices)
