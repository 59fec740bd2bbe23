"""One step with one home: set up and looked at narrowly, or searched under many prices."""

from __future__ import annotations

from collections.abc import Callable

from rondel.planner.bound import Solved
from rondel.planner.contest import Contest, Setting, Whole
from rondel.planner.crew import Done, Step, Task
from rondel.planner.multipliers import Multipliers
from rondel.planner.search import Search
from rondel.planner.table import NEVER
from rondel.planner.windows import windows_of

_EPS = 1e-6
_CUT_AGAIN = 0.7  # of the room there was, where a plan is bettered part by part
_ROOM = 0.25  # by which a plan with another home may be dearer at first
_FEWEST_HOMES = 2  # gaps between returns that are planned afresh at one time; one more in turn

#: Asked now and then; False ends the work with what there is.
GoOn = Callable[[], bool]


class HomeSteps:
    """Plays steps with contests from `contest_of`: searches of `width` are narrow, those that
    better a part of a plan have the width `window`."""

    def __init__(
        self,
        contest_of: Callable[[Setting, Multipliers], Contest | None],
        *,
        rounds: int,
        width: int,
        window: int,
    ) -> None:
        self._contest_of = contest_of
        self._rounds, self._width, self._window = rounds, width, window

    def play(self, step: Step, go_on: GoOn = lambda: True) -> Done:
        """Return what comes of a step."""
        contest = self._contest_of(step.setting, step.start)
        if contest is None:
            return Done(step=step, bound=NEVER, plan=None, prices=step.prices)
        prices, plan = list(step.prices), None
        if step.task is Task.PREPARE:
            contest.begin_from(step.start, step.best)
            contest.sharpen(step.best, self._rounds)
        elif step.task is Task.AFRESH:
            plan = self._afresh(contest, step.best, go_on)
        else:
            plan = self._judged(contest, step, prices, go_on)
        return Done(step=step, bound=contest.bound, plan=plan, prices=tuple(prices))

    def _afresh(self, contest: Contest, best: float, go_on: GoOn) -> Whole | None:
        """Look for a plan that need not be better than the best, and better it."""
        limit = best + _ROOM * abs(best)
        solved = contest.relaxation.solve(contest.solved.at)
        found = Search(solved, limit - contest.home, self._width).run()
        if found.placed is None:
            return None
        plan = found.cost + contest.home, found.placed
        plan = self.bettered(contest, solved, plan, go_on)
        return plan if plan[0] < best - _EPS else None

    def _judged(
        self, contest: Contest, step: Step, prices: list[Multipliers], go_on: GoOn
    ) -> Whole | None:
        """Search, with half-made plans judged under many prices, and better what is found."""
        contest.fix(step.best)
        contest.sharpen(step.best, self._rounds // 2)
        if contest.bound >= step.best - _EPS:
            return None
        found = contest.judge(step.best, step.width, prices, step.seeks, go_on)
        if found.placed is None:
            return None
        plan = found.cost + contest.home, found.placed
        return self.bettered(contest, contest.cut(contest.solved, plan[0]), plan, go_on)

    def bettered(self, contest: Contest, solved: Solved, plan: Whole, go_on: GoOn) -> Whole:
        """Better `plan` from return to return, until nothing is gained twice running."""
        failures, homes, last = 0, _FEWEST_HOMES, NEVER
        while failures < 2 and go_on():
            gained, i = False, 0
            while i < len(windows := list(windows_of(plan[1], homes))) and go_on():
                room = plan[0] - contest.bound
                if room < _CUT_AGAIN * last:
                    last, solved = room, contest.cut(solved, plan[0])
                found = contest.better(solved, plan, windows[i], self._window)
                if found is not None:
                    plan, gained = found, True
                i += 1
            failures = 0 if gained else failures + 1
            homes = 2 * _FEWEST_HOMES + 1 - homes
        return plan
