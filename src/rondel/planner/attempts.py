"""The order in which searches are tried: refrains, peaks, widths, until one finds a plan."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.constraints import peak
from rondel.planner.finish import routine_of
from rondel.planner.frame import frame_of
from rondel.planner.material import Material, material_of
from rondel.planner.moves import Moves
from rondel.planner.refrains import refrain_rows
from rondel.planner.search import run
from rondel.planner.stock import stock_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard to look: states kept at every bar, and refrain rows compared."""

    width: int
    rows: int


NORMAL = Effort(width=24, rows=3)
QUICK = Effort(width=6, rows=1)


def width_for(brief: Brief, effort: Effort) -> int:
    """Return fewer states a bar for longer forms, so that planning takes a few seconds at most."""
    return max(4, round(effort.width * math.pow(min(1.0, 20 / float(brief.minutes)), 0.75)))


def attempt(
    brief: Brief, craft: Craft, effort: Effort, *, near: Routine | None = None
) -> Routine | None:
    material = material_of(brief, craft)
    frame = frame_of(brief)
    rows = refrain_rows(material, frame)
    width = width_for(brief, effort)
    found = None
    for pressure in _peaks(material):
        summit = peak.summit(frame, pressure)
        best = None
        for row in rows[: effort.rows]:
            stock = stock_of(material, frame, summit, row)
            result = run(Moves(stock), max(3, width // 4))
            if result and (best is None or result[0] < best[0]):
                best = (result[0], row)
        if best:
            stock = stock_of(material, frame, summit, best[1])
            result = run(Moves(stock), width)
            found = result
        if found:
            break
    if found is None:
        return None
    placed = tuple(found[1].blocks())
    reasons = tuple(() for _, b, _ in placed for _ in b.parts)
    return routine_of(material, frame, placed, reasons)


def _peaks(material: Material) -> list[int]:
    wished = min(peak.WISHED[material.brief.intention], material.highest)
    return list(range(wished, 0, -1))
