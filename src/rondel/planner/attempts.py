"""The order in which searches are tried: homes, peaks, grids, until one finds a plan; and then
harder, until no better plan can be."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.planner.by_homes import ByHomes
from rondel.planner.constraints import peak
from rondel.planner.contest import Arena, Contest, Setting
from rondel.planner.crew import Crew, Done, NoCrew, Step
from rondel.planner.frame import Frame, frame_of
from rondel.planner.home_steps import GoOn, HomeSteps
from rondel.planner.material import Material, material_of
from rondel.planner.multipliers import Multipliers
from rondel.planner.refrains import Home, Refrain, home_cost, home_of, refrain_of, refrain_rows
from rondel.planner.search import Placed
from rondel.planner.stock import stock_of
from rondel.planner.table import NEVER, Extra
from rondel.planner.taste import light_peak_cost

HOMES = 8  # refrain rows that a plan is chosen from: those that serve best
_EPS = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard to look.

    `homes` refrain rows are tried first, narrowly, and the best of them again: `rounds` of ascent
    sharpen its bound, and a search of `width` follows. With `is_whole` the other homes are weighed
    as well, so that the bound holds for all of them; the `wider` searches that follow go through
    all homes that may still hold something better. With a `window`, long forms are searched home by
    home (see `by_homes`) instead, after searches of that width better the best plan part by part.
    `failures` is how many searches may fail before it is given up; then, but where only the
    `usual_positions` are asked for, it begins anew with all positions that are allowed.
    """

    homes: int
    rounds: int = 0
    width: int = 24
    is_whole: bool = False
    wider: tuple[int, ...] = ()
    window: int = 0
    failures: int = 24
    usual_positions: bool = False


QUICK = Effort(homes=1, failures=4)
NORMAL = Effort(homes=3, rounds=8, failures=12)
BOUNDED = Effort(homes=3, rounds=8, is_whole=True, failures=12)
THOROUGH = Effort(
    homes=3,
    rounds=16,
    is_whole=True,
    wider=(24, 200, 1000, 4000, 16000, 60000, 200000),
    window=40,
    failures=12,
)

_FIRST_WIDTH = 6
_HOPELESS = 6  # settings tried, where each of them is ruled out and not only failed
_BY_PARTS_MINUTES = 20  # shorter forms are sooner seen through as a whole
_MOST_JOINS = 4_000_000  # of a network whose nodes remember more; a solve takes a second then
_JOINS_A_PLAN = 2000  # joins that the network may have for each plan that goes on from a bar


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A whole plan with what it was planned from.

    No plan of the same setting, with any of the homes, costs less than `bound` (None: not known).
    Costs are without what staying near another plan would add where none was asked for.
    """

    cost: float
    bound: float | None
    placed: Placed
    material: Material
    frame: Frame
    refrain: Refrain


class Attempts:
    """All searches for one brief. Blocks and refrain rows are worked out once.

    `home` is a refrain that should be tried before any other, where it can be had, and `peak` a
    pressure of the peak.
    """

    def __init__(
        self,
        brief: Brief,
        craft: Craft,
        extra: Extra | None = None,
        home: Home = (),
        crew: Crew | None = None,
        peak: int | None = None,
    ) -> None:
        self.brief, self.craft, self.extra, self.wanted = brief, craft, extra, home
        self._peak = peak
        self._crew: Crew = crew if crew is not None and extra is None and not home else NoCrew()
        self.usual = self.material = material_of(brief, craft)
        self.frame = frame_of(brief)
        self._gather()

    def _gather(self) -> None:
        """Work out the refrain rows of the material."""
        home = self.wanted
        self.rows = refrain_rows(self.material, self.frame)
        if (
            self.frame.laid is not None
        ):  # what is no whole phrase takes all after it off the phrases
            step = self.frame.step
            self.rows = tuple(sorted(self.rows, key=lambda r: r.block.bars % step > 0))
        wanted = refrain_of(self.material, self.frame, home) if home else None
        if wanted is not None:
            others = [r for r in self.rows if home_of(r, self.material) != home]
            self.rows = (wanted, *others)
        self.is_pinned = wanted is not None
        self._contests: dict[Setting, Contest | None] = {}
        self._arenas: dict[object, Arena | None] = {}

    def find(self, effort: Effort, go_on: GoOn = lambda: True) -> Found | None:
        """Return the best plan of the first settings that give one, tried ever harder.

        Where the few usual positions give none, all that are allowed are tried.
        """
        found = self._find(effort, go_on)
        if found is None and not effort.usual_positions and self._widen():
            found = self._find(effort, go_on)
        return found

    def _widen(self) -> bool:
        """Allow every position; False where all were allowed already."""
        every = material_of(self.brief, self.craft, every_position=True)
        if every.positions == self.material.positions:
            return False
        self.material = every
        self._gather()
        return True

    def _find(self, effort: Effort, go_on: GoOn) -> Found | None:
        if not self.rows:
            return None
        self.best: tuple[float, Placed, Contest] | None = None
        self._weighed: list[Setting] = []
        self._homes_asked: ByHomes | None = None
        settings = self._first(effort)
        if self.best is None:
            return None
        if effort.rounds and go_on():
            self._harder(settings, effort, go_on)
        cost, placed, contest = self.best
        frame, refrain = contest.frame, contest.refrain
        homes = self._homes_asked
        if homes is not None and homes.plan is not None:
            (cost, placed), setting = homes.plan
            frame, refrain = self._frame_of(setting), self.rows[setting.row]
        return Found(
            cost=cost,
            # A lighter peak may have turned out better: then the homes are weighed with that.
            bound=self._found_bound(self._weighed or settings) if effort.is_whole else None,
            placed=placed,
            material=self.material,
            frame=frame,
            refrain=refrain,
        )

    def standing(self) -> tuple[float, float | None]:
        """Return the cost of the best plan so far, and the bound, once all homes are weighed."""
        assert self.best is not None
        if self._homes_asked is not None:
            return self._homes_asked.best, self._homes_asked.bound
        return self.best[0], self._bound(self._weighed) if self._weighed else None

    # ---- the first plan ------------------------------------------------------------------------

    def _first(self, effort: Effort) -> list[Setting]:
        """Find a plan, and return the settings that are like the one that gave it.

        While every setting tried was ruled out, not only failed, one home for each further peak is
        enough to see that it is so there as well.
        """
        failures, is_ruled_out = 0, True
        for number, settings in enumerate(self.settings(effort.homes)):
            some = settings[:1] if number and is_ruled_out else settings
            better = [self._try(setting, _FIRST_WIDTH) for setting in some]
            failures += len(better) - sum(better)
            is_ruled_out = is_ruled_out and all(map(self._is_ruled_out, some))
            most = min(effort.failures, _HOPELESS) if is_ruled_out else effort.failures
            if any(better) or failures >= most:
                return self._alike(settings[0])
        return []

    def _is_ruled_out(self, setting: Setting) -> bool:
        """True where a setting that was tried is known to give no plan."""
        contest = self.contest(setting)
        return contest is None or contest.bound >= NEVER

    def _try(self, setting: Setting, width: int, *, is_even: bool = False) -> bool:
        """Search once; True where the best plan known was bettered."""
        contest = self.contest(setting)
        best = self.best[0] if self.best else NEVER
        if contest is None or contest.bound >= best - _EPS:
            return False
        found = contest.search(best, width, is_even=is_even)
        if found.placed is None:
            return False
        self.best = found.cost + contest.home, found.placed, contest
        return True

    def settings(self, compared: int) -> Iterator[list[Setting]]:
        """Yield lists of settings; the best of a list is taken, lists are tried in order."""
        wished = min(peak.WISHED[self.brief.intention], self.material.highest)
        pressures = [*range(wished, 0, -1), *range(wished + 1, self.material.highest + 1)]
        if self._peak is not None and self._peak in pressures:
            yield from self._settings([self._peak], compared)
        yield from self._settings([p for p in pressures if p != self._peak], compared)
        if self.is_pinned:  # the refrain that is wanted is the last to go
            pieces = self._pieces()
            for pressure in pressures:
                others = [row for row in self._homes(pressure) if row != 0]
                yield [_setting(pressure, row, pieces[0]) for row in others[:2]]

    def _settings(self, pressures: list[int], compared: int) -> Iterator[list[Setting]]:
        """Yield the settings with a peak of these `pressures`."""
        pieces = self._pieces()
        some_at = {p: self._homes(p) for p in pressures}
        if self.is_pinned:  # another stands in as yet only for a peak that is asked to be lighter
            some_at = {
                p: some[:1] if 0 in some or p == self._peak else [] for p, some in some_at.items()
            }
        pressures = [p for p in pressures if some_at[p]]
        first = 1 if self.is_pinned else compared
        for pressure in pressures:
            yield [_setting(pressure, row, pieces[0]) for row in some_at[pressure][:first]]
        for is_fine, is_wide in ((False, True), (True, False), (True, True)):
            for count in pieces:
                for pressure in pressures:
                    some = some_at[pressure]
                    rows = some[:2] if is_fine else some[2:4] or some[:1]
                    for row in some if self.is_pinned else rows:
                        yield [_setting(pressure, row, count, is_wide, is_fine)]

    def _pieces(self) -> list[int]:
        """Return in how many pieces the minutes left free may be tried."""
        if not self.brief.open_minutes:
            return [1]
        room = max(1.0, float(self.brief.minutes) / (self.frame.refrains + 1) * 0.7)
        likely = max(1, math.ceil(float(self.brief.open_minutes) / room))
        return list(dict.fromkeys((likely, likely + 1, max(1, likely - 1))))

    def _homes(self, pressure: int) -> list[int]:
        """Return the numbers of the rows that plans with a peak of that pressure are chosen from:
        of different techniques first, then other lengths of these; the shortest of all, which fits
        where no other does. None presses firmer than the peak."""
        rows = [(i, row) for i, row in enumerate(self.rows) if row.block.pressure <= pressure]
        if not rows:
            return []
        found: list[int] = []
        seen: set[object] = set()
        for i, row in rows:
            if row.block.numbers not in seen:
                seen.add(row.block.numbers)
                found.append(i)
        lengths = {(self.rows[i].block.numbers, self.rows[i].block.bars) for i in found}
        shortest = min(rows, key=lambda r: (r[1].block.bars, r[0]))[0]
        chosen = found[: HOMES - 3]
        chosen += [] if shortest in chosen else [shortest]
        best = {self.rows[i].block.numbers for i in found[:3]}
        for i, row in rows:
            length = row.block.numbers, row.block.bars
            if len(chosen) < HOMES and length not in lengths and row.block.numbers in best:
                lengths.add(length)
                chosen.append(i)
        return chosen

    def _alike(self, setting: Setting) -> list[Setting]:
        """Return the settings that differ from `setting` in their homes alone."""
        rows = [0] if self.is_pinned and setting.row == 0 else self._homes(setting.pressure)
        return [replace(setting, row=row) for row in rows]

    def contest(self, setting: Setting, start: Multipliers | None = None) -> Contest | None:
        """Return the contest of `setting`, None where there are no blocks for it; a new one begins
        with the prices `start`, if they are given, and the finer network."""
        if setting not in self._contests:
            self._contests[setting] = self._built(setting, start)
        return self._contests[setting]

    def _built(self, setting: Setting, start: Multipliers | None) -> Contest | None:
        row = self.rows[setting.row]
        key = replace(setting, row=row.block.bars), row.positions, row.block.opens
        if key not in self._arenas:
            self._arenas[key] = self._arena(setting, row)
        arena = self._arenas[key]
        if arena is None or (start is None and not arena.leads):
            return None
        cost = home_cost(self.usual, self.frame, home_of(row, self.material))
        highest, intention = self.usual.highest, self.brief.intention
        cost += light_peak_cost(intention, highest, setting.pressure)
        return Contest(arena, row, cost, start)

    def _arena(self, setting: Setting, row: Refrain) -> Arena | None:
        frame = self._frame_of(setting)
        stock = stock_of(
            self.material,
            frame,
            peak.summit(frame, setting.pressure),
            row,
            open_pieces=setting.pieces,
            is_wide=setting.is_wide,
        )
        if len(stock.open_blocks) == 0 and self.brief.open_minutes:
            return None
        if not stock.arrivals or not (stock.peaks or stock.kept):
            return None
        return Arena(stock, frame, self.extra, setting)

    def _frame_of(self, setting: Setting) -> Frame:
        return frame_of(self.brief, fine=True) if setting.is_fine else self.frame

    # ---- harder --------------------------------------------------------------------------------

    def _harder(self, settings: list[Setting], effort: Effort, go_on: GoOn) -> None:
        """Sharpen bounds and search ever wider, until the best plan is proven or effort ends."""
        assert self.best is not None
        if effort.is_whole:
            settings = self._lower(settings)
        leader = self.best[2]
        if effort.is_whole:
            leader.refine()
        leader.sharpen(self.best[0], effort.rounds)
        for setting in self._of(leader):
            self._try(setting, effort.width)
        if not effort.is_whole:
            return
        if effort.window > 0 and is_by_homes(self.brief):
            self._by_homes(leader, settings, effort, go_on)
            return
        for setting in settings:
            contest = self.contest(setting, leader.solved.at)
            if contest is not None and contest is not leader:
                contest.begin_from(leader.solved.at, self.best[0])
        self._weighed = settings
        for width in self._widths(effort, settings):
            for setting in self._ordered(settings):
                contest = self.contest(setting)
                if not go_on():
                    return
                if contest is None or contest.bound >= self.best[0] - _EPS:
                    continue
                contest.fix(self.best[0])
                contest.sharpen(self.best[0], effort.rounds)
                if width > effort.width:
                    contest.remember(self.best[0], min(_MOST_JOINS, _JOINS_A_PLAN * width))
                    if contest.bound >= self.best[0] - _EPS:
                        continue
                self._try(setting, width, is_even=width >= 200)

    def _by_homes(
        self, leader: Contest, settings: list[Setting], effort: Effort, go_on: GoOn
    ) -> None:
        """Better the plan part by part, then search home by home, with the crew's help."""
        assert self.best is not None
        cost, placed, contest = self.best
        setting = self._of(contest)[0]
        steps, start = self.steps(effort), leader.solved.at
        self._homes_asked = ByHomes(
            steps,
            self._crew,
            settings,
            start,
            cost,
            every_position=self.material is not self.usual,
        )
        homes = self._homes_asked
        homes.begin(setting)
        leader.fix(cost)
        plan = steps.bettered(contest, contest.solved, (cost, placed), go_on)
        homes.better(plan[0])
        self.best = *plan, contest
        homes.run(go_on)
        for setting in homes.unknown():  # so that a bound is told, whatever the time was
            found = self.contest(setting)
            homes.learn(setting, NEVER if found is None else found.bound)

    def steps(self, effort: Effort) -> HomeSteps:
        """Return who plays steps with the homes of these attempts."""
        return HomeSteps(
            self.contest, rounds=effort.rounds, width=effort.width, window=effort.window
        )

    def play(self, step: Step, effort: Effort) -> Done:
        """Return what comes of a step that others ask for."""
        if step.every_position and self.material is self.usual:
            self._widen()
        return self.steps(effort).play(step)

    def _widths(self, effort: Effort, settings: list[Setting]) -> Iterator[int]:
        """Yield ever wider widths, and the last again while that still raises the bound: what is
        left of a network grows smaller, its prices better, and so a search of that width deeper."""
        yield from effort.wider
        if not effort.wider:
            return
        before = -math.inf
        while before + _EPS < (bound := self._bound(settings)):
            before = bound
            yield effort.wider[-1]

    def _lower(self, settings: list[Setting]) -> list[Setting]:
        """Return the settings to go on with: a lighter peak, where that gives a better plan."""
        assert self.best is not None
        chosen = next(s for s, c in self._contests.items() if c is self.best[2])
        lighter = replace(chosen, pressure=chosen.pressure - 1)
        if lighter.pressure >= 2 and self._try(lighter, _FIRST_WIDTH):
            return self._alike(lighter)
        return settings

    def _of(self, contest: Contest) -> list[Setting]:
        return [s for s, c in self._contests.items() if c is contest]

    def _ordered(self, settings: list[Setting]) -> list[Setting]:
        """Return settings, the most promising first."""

        def promise(setting: Setting) -> float:
            contest = self.contest(setting)
            return NEVER if contest is None else contest.bound

        return sorted(settings, key=promise)

    def _found_bound(self, settings: list[Setting]) -> float | None:
        homes = self._homes_asked
        return self._bound(settings) if homes is None else homes.bound

    def _bound(self, settings: list[Setting]) -> float:
        """Return what no plan of these settings can undercut."""
        assert self.best is not None
        bounds = [c.bound for c in map(self.contest, settings) if c is not None]
        return min([self.best[0], *bounds])


def is_by_homes(brief: Brief) -> bool:
    """True where a thorough search goes home by home, with plans bettered part by part; shorter
    forms are sooner seen through as a whole."""
    return brief.minutes > _BY_PARTS_MINUTES


def _setting(
    pressure: int, row: int, pieces: int, is_wide: bool = False, is_fine: bool = False
) -> Setting:
    return Setting(pressure=pressure, row=row, pieces=pieces, is_wide=is_wide, is_fine=is_fine)
