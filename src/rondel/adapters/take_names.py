"""What takes are said to show, and a plan that rather uses it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from rondel.adapters.seen_files import FilesBesideTake
from rondel.adapters.take_place import takes_at
from rondel.model.brief import Brief
from rondel.model.errors import BadInput
from rondel.model.repertoire import Craft


def techniques_shown(takes: Iterable[Path]) -> tuple[str, ...]:
    """Return the techniques that the teacher says these takes show, each once."""
    found: dict[str, None] = {}
    for take in takes:
        said = FilesBesideTake().corrections(take)
        names = (said.technique, *(one.technique for one in said.named))
        found |= dict.fromkeys(name for name in names if name)
    return tuple(found)


def rather_filmed(brief: Brief, path: Path, craft: Craft) -> Brief:
    """Return `brief`, of the file at `path`, with a preference for what the takes beside it, or in
    its studio, are said to show; BadInput where nothing is."""
    takes = takes_at(path.resolve().parent)
    if not takes:
        raise BadInput("no take lies in a folder takes, beside it or in its studio", at=path.name)
    shown = techniques_shown(takes.values())
    unknown = next((t for t in shown if not craft.has_technique(t)), None)
    if unknown is not None:
        says = f"a take is said to show {unknown}, which nobody teaches here; name it anew"
        raise BadInput(says, at=path.name)
    if not shown:
        says = "nobody has said what the takes beside it show: rondel watch TAKE --technique ID"
        raise BadInput(says, at=path.name)
    return replace(brief, prefer=tuple(dict.fromkeys((*brief.prefer, *shown))))
