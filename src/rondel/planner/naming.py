"""Names of places and lists of words, as they stand inside a sentence."""

from __future__ import annotations

from collections.abc import Iterable

from rondel.model.repertoire import Region

_NO_ARTICLE = ("the ", "beside ", "between ", "behind ", "under ")


def place(region: Region) -> str:
    """Return the region's name with its article: "the calves", but "beside the spine"."""
    name = region.name[:1].lower() + region.name[1:]
    return name if name.startswith(_NO_ARTICLE) else f"the {name}"


def listed(words: Iterable[str]) -> str:
    """Return "a, b and c"."""
    found = list(words)
    if len(found) < 2:
        return "".join(found)
    return f"{', '.join(found[:-1])} and {found[-1]}"
