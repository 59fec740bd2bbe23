"""One way to set up the search: its blocks and network, its bound, and how both are bettered."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from rondel.planner.ascent import ascend
from rondel.planner.bound import Relaxation, Solved
from rondel.planner.fixing import fixed
from rondel.planner.frame import Frame
from rondel.planner.grounds import grounds_of
from rondel.planner.judges import Judges
from rondel.planner.memories import Sort
from rondel.planner.multipliers import Multipliers
from rondel.planner.neglect import remembering_more
from rondel.planner.net import Net, TooLarge
from rondel.planner.refrains import Refrain
from rondel.planner.search import Placed, Search, Searched
from rondel.planner.stock import Stock
from rondel.planner.table import NEVER, Extra, Table
from rondel.planner.windows import Window, around

_EPS = 1e-6
_FIXED_AGAIN = 0.9  # of the room there was
_MOST_WORK = 48_000  # rows solved in one go at sharpening a bound, about
_MEMORY_ROUNDS = 8  # of ascent after nodes remember one thing more
_WINDOW_ROUNDS = 4  # of ascent before a part of a plan is planned afresh
_MOST_ROWS = 12_000  # of a network that forgets little; a larger one takes minutes

#: A whole plan: its cost and its blocks.
Whole = tuple[float, Placed]


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One way to set up the search."""

    pressure: int
    row: int
    pieces: int
    is_wide: bool
    is_fine: bool


class Arena:
    """Blocks and network for all homes of one length and the same positions."""

    def __init__(self, stock: Stock, frame: Frame, extra: Extra | None, setting: Setting) -> None:
        self.frame, self.is_wide = frame, setting.is_wide
        self.table = Table(stock, grounds_of(stock), extra)
        self._is_loose = setting.is_wide or setting.is_fine

    @cached_property
    def _net(self) -> Net:
        return Net(self.table, is_wide=self._is_loose)

    @property
    def leads(self) -> bool:
        """True where any way leads from an arrival to a close."""
        return self._net.count > 0

    @cached_property
    def relaxation(self) -> Relaxation:
        """The network that forgets more, and is built sooner."""
        return Relaxation(self._net)

    @cached_property
    def finer(self) -> Relaxation | None:
        """The network that forgets less, where it is not too large."""
        try:
            net = Net(self.table, is_wide=self._is_loose, is_fine=True, most_rows=_MOST_ROWS)
        except TooLarge:
            return None
        return Relaxation(net)


class Contest:
    """One setting, solved: what its plans cost at least, and the best plan met.

    Costs here include what its home costs, and that its peak is light. With prices to `start` from,
    it is solved at once on the network that forgets less.
    """

    def __init__(
        self, arena: Arena, refrain: Refrain, home: float, start: Multipliers | None = None
    ) -> None:
        self.frame, self.refrain, self.home, self._arena = arena.frame, refrain, home, arena
        self._judging: tuple[Relaxation, list[tuple[Multipliers, Solved]]] | None = None
        table = arena.table.for_home(refrain, is_wide=arena.is_wide)
        finer = None if start is None else arena.finer
        self.relaxation = (finer or arena.relaxation).for_table(table)
        self.solved: Solved = self.relaxation.solve(start or self.relaxation.usual())
        self.bound = self.solved.value() + home
        self._room = NEVER  # between bound and best when the network was cut down
        self._given_up: dict[Sort, int] = {}  # memories for which the network was too large

    def refine(self) -> None:
        """Go over to the network that forgets less, if there is one."""
        finer = self._arena.finer
        if finer is not None and finer.net is not self.relaxation.net:
            self.relaxation = finer.for_table(self.relaxation.table)
            self.solved, self._room = self.relaxation.solve(self.solved.at), NEVER
            self.bound = max(self.bound, self.solved.value() + self.home)

    def begin_from(self, start: Multipliers, best: float) -> None:
        """Go over to the network that forgets less, take the prices `start` where these are better,
        and leave out what is of no more use."""
        if self.solved.at is not start:
            self.refine()
            self.sharpen(best, 0, start)
        self.fix(best)

    def fix(self, best: float) -> None:
        """Leave out of the solved network what no plan cheaper than `best` can use, where there is
        less room between bound and best than when that was last done."""
        room = best - self.bound
        if room < _FIXED_AGAIN * self._room and math.isfinite(self.solved.value()):
            self._room = room
            self.solved = fixed(self.solved, best - self.home).solve(self.solved.at)

    def remember(self, best: float, most: int) -> None:
        """Let nodes remember what the cheapest way neglects, one thing after the other, while the
        network has about `most` joins or fewer, and leave out each time what is of no more use."""
        while self.bound < best - _EPS and math.isfinite(self.solved.value()):
            finer = remembering_more(self.solved, most, self._given_up)
            if finer is None:
                return
            self.solved = finer
            self.sharpen(best, _MEMORY_ROUNDS)
            self._room = NEVER
            self.fix(best)

    def sharpen(self, best: float, rounds: int, start: Multipliers | None = None) -> None:
        """Raise the bound, from the better of the multipliers at hand and `start`."""
        relaxation = self.solved.relaxation
        if start is not None:
            other = relaxation.solve(start)
            if other.value() > self.solved.value():
                self.solved = other
        fair = max(1, _MOST_WORK // max(1, relaxation.size)) if rounds else 0
        self.solved = ascend(relaxation, self.solved, best - self.home, min(rounds, fair))
        self.bound = max(self.bound, min(best, self.solved.value() + self.home))

    def search(self, best: float, width: int, *, is_even: bool = False) -> Searched:
        """Look for a plan cheaper than `best`; the bound rises as far as the search shows."""
        found = Search(self.solved, best - self.home, width, is_even=is_even).run()
        self.bound = max(self.bound, min(found.bound + self.home, best))
        return found

    def judge(
        self,
        best: float,
        width: int,
        prices: list[Multipliers],
        most: int,
        go_on: Callable[[], bool] = lambda: True,
    ) -> Searched:
        """Look for a plan cheaper than `best`, with half-made ones judged under `prices` as well.

        Up to `most` prices are sought anew. What told most stands first in `prices` after that.
        Where `go_on` says no more, the search is given up, and tells of no bound.
        """
        relaxation = self.solved.relaxation
        if self._judging is None or self._judging[0] is not relaxation:
            self._judging = relaxation, []
        known = {id(at): solved for at, solved in self._judging[1]}
        judges = Judges([known.get(id(at)) or relaxation.solve(at) for at in prices], most)
        self._judging = relaxation, list(zip(prices, judges.solved, strict=True))
        search = Search(self.solved, best - self.home, width, is_even=True, judges=judges)
        found = search.run(go_on)
        self.bound = max(self.bound, min(found.bound + self.home, best))
        every = [*prices, *(solved.at for solved in judges.sought)]
        told = judges.telling()
        prices[:] = [every[i] for i in (*told, *(i for i in range(len(every)) if i not in told))]
        return found

    def cut(self, solved: Solved, cost: float) -> Solved:
        """Return a solved network without what no plan cheaper than `cost` can use."""
        least = cost - self.home
        solved = fixed(solved, least).solve(solved.at)
        return ascend(solved.relaxation, solved, least, _WINDOW_ROUNDS)

    def better(self, solved: Solved, plan: Whole, window: Window, width: int) -> Whole | None:
        """Return a plan cheaper than `plan` that is like it outside of `window`, if one is met."""
        cost, placed = plan
        part = around(solved.relaxation, placed, window)
        solved = part.solve(solved.at)
        if solved.value() >= cost - self.home - _EPS:
            return None
        solved = self.cut(solved, cost)
        found = Search(solved, cost - self.home, width).run()
        return None if found.placed is None else (found.cost + self.home, found.placed)
