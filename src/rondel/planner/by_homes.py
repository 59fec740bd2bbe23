"""The order in which homes are searched ever wider: always the one that keeps the bound down.

With a crew, several homes are searched at once, by helpers alone. What is then found first hangs on
how fast each helper is, as does all that is found within a given time; a proof does not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from rondel.planner.contest import Setting, Whole
from rondel.planner.crew import Crew, Done, Step, Task
from rondel.planner.home_steps import GoOn, HomeSteps
from rondel.planner.multipliers import Multipliers

_EPS = 1e-6
#: Of searches, one after the other. By reckoning (some 630 bytes a half-made plan that went on),
#: the last takes about a gigabyte for an hour's form.
_WIDTHS = (200, 500, 1000, 2000, 4000, 8000)
_AT_FIRST = 3  # homes that a helper sets up while the first plan is bettered
_AFRESH = 2  # homes that are looked at narrowly before they are judged
_MANY_PRICES = 8  # that are sought for half-made plans at first ...
_FEW_PRICES = 4  # ... and in each search after that
_MOST_PRICES = 32  # under which half-made plans are judged
_WAIT = 0.02  # seconds, between two looks at whether to go on


class ByHomes:
    """All homes, each with its bound, and the best plan yet."""

    def __init__(
        self,
        steps: HomeSteps,
        crew: Crew,
        settings: Sequence[Setting],
        start: Multipliers,
        best: float,
        *,
        every_position: bool = False,
    ) -> None:
        self._steps, self._crew, self._settings = steps, crew, list(settings)
        self._start, self._every = start, every_position
        self.best = best
        self.plan: tuple[Whole, Setting] | None = None
        self._bounds = dict.fromkeys(self._settings, -math.inf)
        self._level = dict.fromkeys(self._settings, 0)
        self._asked: list[int] = [0] * crew.size  # steps that each helper was given
        self._busy: set[Setting] = set()
        self._prices: list[Multipliers] = []
        self._spent: set[Setting] = set()
        self._looked_at: set[Setting] = set()

    @property
    def bound(self) -> float | None:
        """What no plan with any of the homes undercuts; None until all were looked at."""
        least = min(self._bounds.values(), default=-math.inf)
        return None if least == -math.inf else min(self.best, least)

    def unknown(self) -> list[Setting]:
        """Return the homes that were not yet looked at, and so have no bound."""
        return [setting for setting, bound in self._bounds.items() if bound == -math.inf]

    def learn(self, setting: Setting, bound: float) -> None:
        """Take note of the bound of a home, known from elsewhere."""
        self._bounds[setting] = max(self._bounds[setting], bound)

    def begin(self, leader: Setting) -> None:
        """Give helpers other homes to look at, while the plan with the leader's is bettered; one
        helper waits, since that keeps a core busy."""
        others = [setting for setting in self._settings if setting != leader]
        free = max(0, self._crew.size - 1)
        for n, setting in enumerate(others[: _AT_FIRST * free]):
            self._give(n % free, setting)

    def better(self, best: float) -> None:
        """Take note of a better plan that is known elsewhere."""
        if best < self.best - _EPS:
            self.best, self.plan = best, None

    def run(self, go_on: GoOn) -> None:
        """Search until the best plan is proven, nothing more can be told, or time is up."""
        while go_on():
            self._collect(0.0)
            for helper in range(self._crew.size):
                is_free = self._crew.is_there(helper) and not self._asked[helper]
                if is_free and (setting := self._next()) is not None:
                    self._give(helper, setting)
            if any(self._asked):
                self._collect(_WAIT)
            elif (mine := self._next()) is not None:
                self._take(self._steps.play(self._step(mine), go_on))
            else:
                return

    def _next(self) -> Setting | None:
        """Return the home with the least bound that nobody is busy with; None where there is none
        that may hold a better plan."""
        free = [s for s in self._settings if s not in self._busy]
        able = [s for s in free if self._bounds[s] < self.best - _EPS and s not in self._spent]
        return min(able, key=self._bounds.__getitem__, default=None)

    def _step(self, setting: Setting) -> Step:
        """Return what is done next with a home: first it is set up, so that it has a bound. Once
        it is looked at narrowly, the first of them before they are judged, the others after."""
        level = self._level[setting]
        is_turn = level > 1 or (level == 1 and len(self._looked_at) < _AFRESH)
        if is_turn and setting not in self._looked_at:
            self._looked_at.add(setting)
            return self._asking(Task.AFRESH, setting)
        has_sought = max(self._level.values()) > 1  # where one was judged
        self._level[setting] += 1
        if not level:
            return self._asking(Task.PREPARE, setting)
        seeks = _FEW_PRICES if has_sought else _MANY_PRICES
        width = _WIDTHS[min(level, len(_WIDTHS)) - 1]
        return self._asking(Task.JUDGE, setting, width, seeks, tuple(self._prices))

    def _asking(
        self,
        task: Task,
        setting: Setting,
        width: int = 0,
        seeks: int = 0,
        prices: tuple[Multipliers, ...] = (),
    ) -> Step:
        return Step(
            task=task,
            setting=setting,
            best=self.best,
            start=self._start,
            width=width,
            prices=prices,
            seeks=seeks,
            every_position=self._every,
        )

    def _give(self, helper: int, setting: Setting) -> None:
        self._busy.add(setting)
        self._asked[helper] += 1
        self._crew.start(helper, self._step(setting))

    def _collect(self, seconds: float) -> None:
        """Take what helpers have done, and wait for each so long."""
        for helper in range(self._crew.size):
            while self._asked[helper]:
                done = self._crew.done(helper, seconds)
                if done is None:
                    break
                self._asked[helper] -= 1
                self._busy.discard(done.step.setting)
                self._take(done)

    def _take(self, done: Done) -> None:
        """Keep what came of a step."""
        setting, before = done.step.setting, self._bounds[done.step.setting]
        self._bounds[setting] = max(before, done.bound)
        if done.step.width == _WIDTHS[-1] and self._bounds[setting] <= before + _EPS:
            self._spent.add(setting)  # the same again would tell no more
        if done.plan is not None and done.plan[0] < self.best - _EPS:
            self.best, self.plan = done.plan[0], (done.plan, setting)
        if done.step.task is Task.JUDGE:
            known = {_sign(at) for at in done.prices}
            others = [at for at in self._prices if _sign(at) not in known]
            self._prices = [*done.prices, *others][:_MOST_PRICES]


def _sign(at: Multipliers) -> bytes:
    """Return what is equal for equal prices."""
    parts = (at.techniques, at.regions, at.shortages, at.warmth)
    return b"".join(part.tobytes() for part in parts)
