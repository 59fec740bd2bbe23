"""More time to plan is used for wider searches, and the best plan is kept."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.app.make_plan import make_plan
from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Proof, Routine
from rondel.model.words import Intention
from rondel.planner.attempts import NORMAL, Effort
from rondel.planner.plan import plan

BRIEF = Brief(title="Short", minutes=Fraction(3), intention=Intention.SETTLE, level=1)
CRAFT = builtin_craft()


class Searches:
    """Stands for searches that each take a second for every 24 states of width."""

    def __init__(self, routine: Routine, costs: list[float]) -> None:
        self.now = 0.0
        self.widths: list[int] = []
        self._routine, self._costs = routine, costs

    def plan(
        self, brief: Brief, craft: Craft, near: Routine | None = None, effort: Effort = NORMAL
    ) -> Outcome:
        self.now += effort.width / 24
        proof = Proof(objective=self._costs[len(self.widths)])
        self.widths.append(effort.width)
        return Outcome(routine=replace(self._routine, proof=proof))


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> Searches:
    routine = plan(BRIEF, CRAFT).routine
    assert routine is not None
    stand_in = Searches(routine, [5.0, 3.0, 4.0, 9.0])
    monkeypatch.setattr("rondel.app.make_plan.plan", stand_in.plan)
    monkeypatch.setattr("rondel.app.make_plan.time.monotonic", lambda: stand_in.now)
    return stand_in


@pytest.mark.parametrize(
    ("seconds", "widths", "cost"),
    [(None, [24], 5.0), (2.0, [24], 5.0), (4.0, [24, 48], 3.0), (9.0, [24, 48, 96], 3.0)],
)
def test_searches_widen_while_there_is_time_and_the_best_is_kept(
    searches: Searches, seconds: float | None, widths: list[int], cost: float
) -> None:
    routine = make_plan(BRIEF, CRAFT, within_seconds=seconds).routine
    assert routine is not None
    assert searches.widths == widths
    assert routine.proof.objective == cost
    assert seconds is None or searches.now <= max(seconds, 1.0)
    assert routine.cues
