"""Where in a studio a technique is used: in routines, those put away too, in versions that may come
back, in briefs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from rondel.adapters.brief_beside import BRIEF
from rondel.adapters.routine_shelf import ROUTINE, Shelf
from rondel.adapters.routine_versions import VERSIONS
from rondel.adapters.studio_files import read_brief, read_json
from rondel.model.errors import RondelError


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """A routine that needs the technique. `passages` is how many passages of it do now.

    None now, and yet a use: an earlier version, or the brief, asks for it. `is_unread` is true
    where a file cannot be read, so that nobody knows; `is_away` where the routine was put away, and
    may come back.
    """

    slug: str
    title: str
    passages: int = 0
    is_unread: bool = False
    is_away: bool = False


def uses_of(shelf: Shelf, id: str) -> tuple[Use, ...]:
    """Return all uses of the technique `id`, in the order of the shelf; then those put away."""
    here = (_use(partial(shelf.folder, slug), slug, id) for slug in shelf.slugs())
    away = (_use(partial(shelf.put_away_folder, name), name, id) for name in shelf.put_away_names())
    return (
        *(use for use in here if use is not None),
        *(replace(use, is_away=True) for use in away if use is not None),
    )


def _use(where: Callable[[], Path], slug: str, id: str) -> Use | None:
    title = slug
    try:
        folder = where()
        data = read_json(folder / ROUTINE) if (folder / ROUTINE).is_file() else {}
        now = _techniques(data)
        title = now[0] or title
        count = now[1].count(id)
        is_asked = id in _preferred(data)
        if (folder / BRIEF).is_file():
            beside = read_brief(folder / BRIEF)
            is_asked |= id in (*beside.prefer, *(keep.technique for keep in beside.keep))
        was = not count and _is_met(folder / VERSIONS, id)
    except (RondelError, OSError):
        return Use(slug=slug, title=title, is_unread=True)
    return Use(slug=slug, title=title, passages=count) if count or is_asked or was else None


def _is_met(versions: Path, id: str) -> bool:
    """True where a version names the technique: they are many, and searched rather than read."""
    word = f'"{id}"'.encode()
    return any(word in path.read_bytes() for path in sorted(versions.glob("*.json")))


def _techniques(data: object) -> tuple[str, list[str]]:
    """Return the title and the techniques of a routine's data; nothing where it is none."""
    if not isinstance(data, dict) or not isinstance(data.get("passages"), list):
        return "", []
    rows = [p.get("technique") for p in data["passages"] if isinstance(p, dict)]
    return str(data.get("title", "")), [t for t in rows if isinstance(t, str)]


def _preferred(data: object) -> list[object]:
    """Return what the brief of a routine's data prefers; nothing where it has none."""
    brief = data.get("brief") if isinstance(data, dict) else None
    found = brief.get("prefer") if isinstance(brief, dict) else None
    return found if isinstance(found, list) else []
