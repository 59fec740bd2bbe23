"""Names in a brief are known to the craft; otherwise the brief is bad input, said by name."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from rondel.model.brief import Brief
from rondel.model.errors import BadInput
from rondel.model.repertoire import Craft

_MOST_LISTED = 40


def require_known(brief: Brief, craft: Craft, at: str = "brief.toml") -> None:
    """Raise BadInput for the first region, caution or technique that the craft does not know."""
    regions = [r.id for r in craft.regions]
    _require(brief.main_regions, regions, f"{at}: main_regions")
    _require(brief.avoid_regions, regions, f"{at}: avoid_regions")
    _require(brief.cautions, [c.id for c in craft.cautions], f"{at}: cautions")
    techniques = [t.id for t in craft.techniques]
    _require([k.technique for k in brief.keep], techniques, f"{at}: keep.technique")
    _require(brief.prefer, techniques, f"{at}: prefer")


def _require(asked: Iterable[str], known: list[str], at: str) -> None:
    for id in asked:
        if id not in known:
            raise BadInput(f'"{id}" is not known; {_hint(id, known)}', at=at)


def _hint(id: str, known: list[str]) -> str:
    """Return the name that comes nearest; where none does, all of a short list, or where to look.

    A name is as near as its spelling, whatever its case and whether words are joined by spaces.
    """
    near = difflib.get_close_matches("-".join(id.lower().split()), known, n=1, cutoff=0.5)
    if near:
        return f'did you mean "{near[0]}"?'
    if len(known) <= _MOST_LISTED:
        return f"known are {', '.join(sorted(known))}"
    return "`rondel techniques` lists all"
