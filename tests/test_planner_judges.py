"""Judged searches: whatever the prices, no half-made plan is judged dearer than what it comes to;
and home by home, alone or with helpers, the same best plan is proven as in one go."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.planning_crew import ProcessCrew
from rondel.app.make_plan import make_plan
from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.words import Intention, Position
from rondel.planner.actions import Actions
from rondel.planner.ascent import ascend
from rondel.planner.attempts import THOROUGH, Attempts, Found
from rondel.planner.contest import Setting
from rondel.planner.crew import Crew, Done, NoCrew, Step, Task
from rondel.planner.growth import Growth
from rondel.planner.halfway import Columns, Past, taken
from rondel.planner.handful import handful
from rondel.planner.judges import Judges, Standing
from rondel.planner.search import Search
from rondel.planner.windows import around
from test_planner_bound import _BRIEFS, _NOTHING, known, some_prices

_ROOM = 1.0
_SMALL = Brief(
    title="Small",
    minutes=Fraction(21),
    intention=Intention.SLEEP,
    level=2,
    positions=(Position.PRONE,),
)


_SHORT = Brief(  # few techniques serve the calves: its plan is short on them
    title="Short",
    minutes=Fraction(12),
    intention=Intention.SETTLE,
    level=2,
    main_regions=("calves",),
)


class Noted(Judges):
    """Judges that note what they were shown."""

    seen: list[tuple[Columns, Growth]]

    def raise_bounds(self, made: Columns, growth: Growth) -> None:
        super().raise_bounds(made, growth)
        self.seen.append(({name: column.copy() for name, column in made.items()}, growth))


@pytest.mark.parametrize("brief", _BRIEFS, ids=lambda b: b.title)
@pytest.mark.parametrize("seed", range(3))
def test_no_prices_judge_the_one_plan_left_dearer_than_it_is(brief: Brief, seed: int) -> None:
    plan = known(brief)
    relaxation = around(plan.networks[-1], plan.placed, _NOTHING)
    prices = [some_prices(relaxation, 10 * seed + n) for n in range(6)]
    judges = Noted([relaxation.solve(at) for at in prices])
    judges.seen = []
    search = Search(
        relaxation.solve(relaxation.usual()),
        plan.cost + _ROOM,
        width=1000,
        is_even=True,
        judges=judges,
    )
    found = search.run()
    assert found.placed is not None
    assert found.cost <= plan.cost + 1e-9
    # Bounds along the way, each judged under all prices: none above what came of it.
    least = [float(made["bound"].min()) for made, _ in judges.seen]
    assert max(least) <= found.cost + 1e-9
    assert len(least) > 5


def test_prices_of_a_network_where_shortages_cost_more_bound_nothing_too_high() -> None:
    plan = known(_SHORT)
    relaxation = around(plan.networks[-1], plan.placed, _NOTHING)
    usual = relaxation.usual()
    # What is short of time costs less a bar where more bars are worked, as with a shorter home.
    dear = replace(usual, shortages=np.full_like(usual.shortages, 3 * relaxation.most_shortage))
    value = relaxation.solve(dear).value()
    assert usual.shortages.max() * 1.5 < value <= plan.cost + 1e-9


@pytest.mark.parametrize("brief", [_BRIEFS[0], _BRIEFS[4]], ids=lambda b: b.title)
def test_bounds_stay_with_their_plans_where_arrivals_end_among_others(brief: Brief) -> None:
    plan = known(brief)
    relaxation = plan.networks[-1]
    solved = relaxation.solve(relaxation.usual())
    judges = Noted([solved])  # the search's own prices: a plan is judged as it was joined
    judges.seen = []
    Search(solved, plan.cost + 20, 200, is_even=True, judges=judges).run()
    mixed = [
        (made, growth)
        for made, growth in judges.seen
        if (made["parent"] < 0).any() and not (made["parent"] < 0).all()
    ]
    assert mixed
    for made, growth in mixed:
        own = growth.priced(made, solved) + solved.ahead[made["row"], made["ending"]]
        assert np.allclose(made["bound"], own, atol=1e-9)


def _half_made(brief: Brief, width: int = 40) -> tuple[list[tuple[Columns, Growth]], Noted, float]:
    """Return half-made plans of a search in a whole network, its judges and the bound it told."""
    plan = known(brief)
    relaxation = plan.networks[-1]
    solved = ascend(relaxation, relaxation.solve(relaxation.usual()), plan.cost + _ROOM, 8)
    judges = Noted([relaxation.solve(some_prices(relaxation, n)) for n in range(3)], most=4)
    judges.seen = []
    found = Search(solved, plan.cost + 1e-6, width, is_even=True, judges=judges).run()
    return judges.seen, judges, found.bound


@pytest.mark.parametrize("brief", _BRIEFS[:2], ids=lambda b: b.title)
def test_all_sets_of_prices_are_judged_as_each_one_by_itself(brief: Brief) -> None:
    seen, judges, _ = _half_made(brief)
    asked = 0
    for made, growth in seen[:40]:
        alone = taken(made, slice(0, 1))
        alone["bound"] = np.full(1, -np.inf)
        few = Judges(judges.solved[:3])
        few.raise_bounds(alone, growth)
        each = [Standing(alone, growth).value(solved) for solved in few.solved]
        assert alone["bound"][0] == pytest.approx(max(each), abs=1e-9)
        asked += 1
    assert asked > 10


@pytest.mark.parametrize("brief", _BRIEFS[:2], ids=lambda b: b.title)
def test_prices_sought_for_a_half_made_plan_tell_more_of_it(brief: Brief) -> None:
    seen, judges, bound = _half_made(brief)
    assert judges.sought  # so something was found that tells more
    made, growth = seen[len(seen) // 2]
    standing = Standing(taken(made, slice(0, 1)), growth)
    start = growth.solved
    raised = ascend(start.relaxation, start, np.inf, 6, standing)
    assert standing.value(raised) >= standing.value(start) - 1e-9
    assert bound <= known(brief).cost + 1e-6


def test_what_comes_of_a_half_made_plan_is_never_less_than_prices_say() -> None:
    """Every half-made plan on the way of the one plan left, under prices sought for it."""
    plan = known(_BRIEFS[0])
    relaxation = around(plan.networks[-1], plan.placed, _NOTHING)
    solved = relaxation.solve(relaxation.usual())
    growth = Growth(solved, Actions(solved.table), Past())
    judges = Noted([solved])
    judges.seen = []
    search = Search(solved, plan.cost + _ROOM, 1000, is_even=True, judges=judges)
    cost = search.run().cost
    assert len(judges.seen) > 8
    for made, _ in judges.seen[::3]:
        ends = []  # more than one only by their arrivals; one of them becomes the plan
        for i in range(len(made["row"])):
            standing = Standing(taken(made, slice(i, i + 1)), growth)
            ends.append(standing.value(ascend(relaxation, solved, np.inf, 8, standing)))
        assert min(ends) <= cost + 1e-9


# ---- home by home -----------------------------------------------------------------------------


class TwoHere:
    """Two helpers in this process, who play a step when they are asked what came of it."""

    size = 2

    def __init__(self, brief: Brief, craft: Craft, *, dies: int | None = None) -> None:
        self._attempts = [Attempts(brief, craft) for _ in range(2)]
        self._given: list[deque[Step]] = [deque(), deque()]
        self._dies, self.played = dies, [0, 0]

    def is_there(self, helper: int) -> bool:
        return helper != self._dies or not self.played[helper]

    def start(self, helper: int, step: Step) -> None:
        self._given[helper].append(step)

    def done(self, helper: int, seconds: float) -> Done | None:
        step = self._given[helper].popleft()
        self.played[helper] += 1
        if helper == self._dies:
            return Done(step=step, bound=-np.inf, plan=None, prices=step.prices)
        return self._attempts[helper].play(step, THOROUGH)


def _found(craft: Craft, crew: Crew) -> Found:
    found = Attempts(_SMALL, craft, crew=crew).find(THOROUGH)
    assert found is not None
    return found


def test_home_by_home_the_same_is_proven_as_in_one_go(monkeypatch: pytest.MonkeyPatch) -> None:
    craft = handful(_SMALL, builtin_craft())
    monkeypatch.setattr("rondel.planner.attempts.is_by_homes", lambda brief: False)
    whole = _found(craft, NoCrew())
    monkeypatch.undo()
    assert whole.bound == pytest.approx(whole.cost, abs=1e-5)
    for crew in (NoCrew(), TwoHere(_SMALL, craft, dies=0)):
        found = _found(craft, crew)
        assert found.cost == pytest.approx(whole.cost, abs=1e-6)
        assert found.bound == pytest.approx(whole.cost, abs=1e-5)
        if isinstance(crew, TwoHere):
            assert 0 < crew.played[0] <= 3 < crew.played[1]  # what it was given before it died


def test_a_helper_in_a_process_answers_as_one_here_and_its_death_is_told() -> None:
    craft = handful(_SMALL, builtin_craft())
    here = Attempts(_SMALL, craft)
    setting = Setting(pressure=2, row=0, pieces=1, is_wide=False, is_fine=False)
    contest = here.contest(setting)
    assert contest is not None
    step = Step(task=Task.AFRESH, setting=setting, best=30.0, start=contest.relaxation.usual())
    crew = ProcessCrew(_SMALL, craft, 1)
    try:
        crew.start(0, step)
        done = crew.done(0, 60.0)
        assert done is not None
        mine = Attempts(_SMALL, craft).play(step, THOROUGH)
        assert done.bound == pytest.approx(mine.bound, abs=1e-9)
        assert (done.plan is None) == (mine.plan is None)
        assert done.plan is None or mine.plan is None or done.plan[0] == mine.plan[0]
        crew._processes[0].kill()
        crew._processes[0].join()
        crew.start(0, step)
        lost = crew.done(0, 60.0)
        assert lost is not None
        assert lost.bound == -np.inf
        assert not crew.is_there(0)
    finally:
        crew.end()


def test_helpers_are_asked_for_only_where_they_can_help() -> None:
    asked = []

    @contextmanager
    def crew(brief: Brief, craft: Craft) -> Iterator[Crew]:
        asked.append(brief.minutes)
        yield NoCrew()

    craft = handful(_SMALL, builtin_craft())
    for minutes in (5, 21):
        brief = Brief(title="Few", minutes=Fraction(minutes), intention=Intention.SLEEP, level=2)
        assert make_plan(brief, craft, within_seconds=0.01, crew=crew).routine is not None
    assert asked == [21]
