"""More time to plan is used for wider searches, and the best plan is kept."""

from __future__ import annotations

from fractions import Fraction

import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.app.make_plan import make_plan
from rondel.model.brief import Brief
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.words import Intention
from rondel.planner.attempts import BOUNDED, NORMAL, THOROUGH, Effort
from rondel.planner.crew import Crew
from rondel.planner.home_steps import GoOn
from rondel.planner.plan import plan

BRIEF = Brief(title="Short", minutes=Fraction(3), intention=Intention.SETTLE, level=1)
CRAFT = builtin_craft()


class Searches:
    """Stands for the planner, and notes how hard and how long it is asked to look."""

    def __init__(self, routine: Routine) -> None:
        self.now = 0.0
        self.efforts: list[Effort] = []
        self.asked = 0
        self._routine = routine

    def plan(
        self,
        brief: Brief,
        craft: Craft,
        near: Routine | None = None,
        effort: Effort = NORMAL,
        go_on: GoOn = lambda: True,
        crew: Crew | None = None,
    ) -> Outcome:
        self.efforts.append(effort)
        while effort is THOROUGH and go_on():
            self.now += 1
            self.asked += 1
        return Outcome(routine=self._routine)


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> Searches:
    routine = plan(BRIEF, CRAFT).routine
    assert routine is not None
    stand_in = Searches(routine)
    monkeypatch.setattr("rondel.app.make_plan.plan", stand_in.plan)
    monkeypatch.setattr("rondel.app.make_plan.time.monotonic", lambda: stand_in.now)
    return stand_in


@pytest.mark.parametrize(
    ("seconds", "effort", "searched"),
    [(None, BOUNDED, 0), (2.0, THOROUGH, 2), (9.0, THOROUGH, 9)],
)
def test_the_search_goes_on_while_there_is_time(
    searches: Searches, seconds: float | None, effort: Effort, searched: int
) -> None:
    routine = make_plan(BRIEF, CRAFT, within_seconds=seconds).routine
    assert routine is not None
    assert searches.efforts == [effort]
    assert searches.asked == searched
    assert routine.cues
