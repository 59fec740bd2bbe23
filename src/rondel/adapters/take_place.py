"""Where the takes of a routine lie: in the folder `takes` beside it, and in that of its studio."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rondel.adapters.studio_files import studio_of
from rondel.model.errors import BadInput

FOLDER = "takes"
#: What films are called; other files in the folder are passed over.
SUFFIXES = (
    ".mp4",
    ".mov",
    ".m4v",
    ".mkv",
    ".webm",
    ".avi",
    ".mpg",
    ".mpeg",
    ".mts",
    ".m2ts",
    ".ts",
    ".wmv",
    ".vob",
    ".ogv",
    ".3gp",
)


def takes_at(home: Path) -> dict[str, Path]:
    """Return the takes for a routine in the folder `home`, by name, in order.

    Those of the routine come first; of two with one name only the first counts.
    """
    studio = studio_of(home)
    places = [home / FOLDER, *([studio / FOLDER] if studio else [])]
    found: dict[str, Path] = {}
    for place in dict.fromkeys(places):
        for path in films_in(place) if place.is_dir() else ():
            found.setdefault(path.name, path)
    return found


def films_in(folder: Path) -> list[Path]:
    """Return the films in a folder, by name."""
    return [
        path
        for path in sorted(folder.iterdir())
        if path.is_file() and path.suffix.lower() in SUFFIXES and not path.name.startswith(".")
    ]


def films_of(paths: Sequence[Path]) -> list[Path]:
    """Return `paths` with the films of a folder in its place, each film once; raise BadInput where
    a folder has none."""
    found: dict[Path, Path] = {}
    for path in paths:
        films = films_in(path) if path.is_dir() else [path]
        if not films:
            raise BadInput("there is no film in this folder; name another one", at=str(path))
        for film in films:
            found.setdefault(film.resolve(), film)
    return list(found.values())
