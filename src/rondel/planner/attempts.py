"""The order in which searches are tried: refrains, peaks, widths, until one finds a plan."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.planner.constraints import peak
from rondel.planner.costs import Extra
from rondel.planner.frame import Frame, frame_of
from rondel.planner.material import Material, material_of
from rondel.planner.moves import Moves
from rondel.planner.refrains import Refrain, refrain_rows
from rondel.planner.search import run
from rondel.planner.state import State
from rondel.planner.stock import stock_of
from rondel.planner.taste import wished_turns


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard to look: states kept at every bar, refrain rows compared, and how many searches
    may fail before it is given up."""

    width: int
    rows: int
    failures: int = 24


NORMAL = Effort(width=24, rows=3)
QUICK = Effort(width=6, rows=1, failures=5)


#: A refrain as (technique, pressure, bars) of its passages.
Home = tuple[tuple[str | None, int, int], ...]


def home_of(row: Refrain, material: Material) -> Home:
    """Return the passages of a refrain row, by name."""
    return tuple((material.techniques[p.technique].id, p.pressure, p.bars) for p in row.block.parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A whole plan with what it was planned from."""

    cost: float
    state: State
    material: Material
    frame: Frame
    refrain: Refrain


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One way to set up the search."""

    pressure: int
    row: int
    pieces: int
    is_wide: bool
    is_fine: bool


def width_for(brief: Brief, effort: Effort) -> int:
    """Return fewer states a bar for longer forms, so that planning takes a few seconds at most."""
    width = effort.width * math.pow(min(1.0, 20 / float(brief.minutes)), 0.75)
    # Plans that have turned over are kept apart from those that have not: twice as many go on.
    return max(4, round(width / 2 if wished_turns(brief) else width))


class Attempts:
    """All searches for one brief. Blocks and refrain rows are worked out once.

    `home` is a refrain that should be tried first, where it can be had.
    """

    def __init__(
        self,
        brief: Brief,
        craft: Craft,
        extra: Extra | None = None,
        home: Home = (),
    ) -> None:
        self.brief, self.extra, self.home = brief, extra, home
        self.material = material_of(brief, craft)
        self.frame = frame_of(brief)
        self.rows = refrain_rows(self.material, self.frame)

    def find(self, effort: Effort) -> Found | None:
        """Return the best plan of the first settings that give one, tried ever wider."""
        if not self.rows:
            return None
        first = self._narrow(effort)
        if first is None or effort is QUICK:
            return first
        width = width_for(self.brief, effort)
        best = first
        wide = self._search(self._last, width)
        return wide if wide is not None and wide.cost < best.cost else best

    def _narrow(self, effort: Effort) -> Found | None:
        """Return the best of a few narrow searches, one a refrain row; else the first found."""
        width = max(3, effort.width // 4) if effort is not QUICK else effort.width
        width = width_for(self.brief, Effort(width=width, rows=1))
        failures = 0
        for settings in self._settings(effort.rows):
            best: Found | None = None
            for setting in settings:
                found = self._search(setting, width)
                failures += found is None
                if found and (best is None or found.cost < best.cost):
                    best, self._last = found, setting
            if best is not None or failures >= effort.failures:
                return best
        return None

    def _settings(self, compared: int) -> Iterator[list[Setting]]:
        """Yield lists of settings; the best of a list is taken, lists are tried in order."""
        wished = min(peak.WISHED[self.brief.intention], self.material.highest)
        pieces = self._pieces()
        pressures = [*range(wished, 0, -1), *range(wished + 1, self.material.highest + 1)]
        some = self._different_rows(max(compared, 4))
        for pressure in pressures:
            yield [_setting(pressure, row, pieces[0]) for row in some[:compared]]
        for is_fine, is_wide in ((False, True), (True, False), (True, True)):
            for count in pieces:
                for pressure in pressures:
                    for row in some[:2] if is_fine else some[2:4] or some[:1]:
                        yield [_setting(pressure, row, count, is_wide, is_fine)]

    def _pieces(self) -> list[int]:
        """Return in how many pieces the minutes left free may be tried."""
        if not self.brief.open_minutes:
            return [1]
        room = max(1.0, float(self.brief.minutes) / (self.frame.refrains + 1) * 0.7)
        likely = max(1, math.ceil(float(self.brief.open_minutes) / room))
        return list(dict.fromkeys((likely, likely + 1, max(1, likely - 1))))

    def _different_rows(self, count: int) -> list[int]:
        """Return the numbers of the best rows: of different techniques, then the shortest one."""
        found = [i for i, row in enumerate(self.rows) if home_of(row, self.material) == self.home]
        found = found[:1]
        seen: set[object] = {self.rows[i].block.numbers for i in found}
        for i, row in enumerate(self.rows):
            if row.block.numbers not in seen and len(found) < count:
                seen.add(row.block.numbers)
                found.append(i)
        shortest = min(range(len(self.rows)), key=lambda i: (self.rows[i].block.bars, i))
        return [*found, *([] if shortest in found else [shortest])]

    def _search(self, setting: Setting, width: int) -> Found | None:
        frame = frame_of(self.brief, fine=True) if setting.is_fine else self.frame
        row = self.rows[setting.row]
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
        result = run(Moves(stock, self.extra), width)
        if result is None:
            return None
        cost, state = result
        return Found(cost=cost, state=state, material=self.material, frame=frame, refrain=row)


def _setting(
    pressure: int, row: int, pieces: int, is_wide: bool = False, is_fine: bool = False
) -> Setting:
    return Setting(pressure=pressure, row=row, pieces=pieces, is_wide=is_wide, is_fine=is_fine)
