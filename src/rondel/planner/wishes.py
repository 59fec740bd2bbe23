"""Names in a brief are known to the craft; otherwise the brief is bad input, said by name."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from rondel.model.brief import Brief
from rondel.model.errors import BadInput
from rondel.model.repertoire import Craft


def require_known(brief: Brief, craft: Craft, at: str = "brief.toml") -> None:
    """Raise BadInput for the first region, caution or technique that the craft does not know."""
    regions = [r.id for r in craft.regions]
    _require(brief.main_regions, regions, f"{at}: main_regions")
    _require(brief.avoid_regions, regions, f"{at}: avoid_regions")
    _require(brief.cautions, [c.id for c in craft.cautions], f"{at}: cautions")
    techniques = [t.id for t in craft.techniques]
    _require([k.technique for k in brief.keep], techniques, f"{at}: keep.technique")


def _require(asked: Iterable[str], known: list[str], at: str) -> None:
    for id in asked:
        if id in known:
            continue
        near = difflib.get_close_matches(id, known, n=1, cutoff=0.5)
        hint = f' (did you mean "{near[0]}"?)' if near else ""
        allowed = ", ".join(sorted(known)) if len(known) <= 40 else "those of the repertoire"
        raise BadInput(f'"{id}" is not known; allowed are {allowed}{hint}', at=at)
