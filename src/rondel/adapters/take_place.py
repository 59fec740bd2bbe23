"""Where the takes of a routine lie: in the folder `takes` beside it, and in that of its studio."""

from __future__ import annotations

from pathlib import Path

from rondel.adapters.studio_files import studio_of

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
