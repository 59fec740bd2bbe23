"""What a teacher takes away is set aside in a hidden folder beside it, until she brings it back or
deletes it for good."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from rondel.model.errors import BadInput, OutsideFailure

AWAY = ".away"


def set_aside(path: Path, beside: Iterable[Path] = ()) -> None:
    """Set the file `path` aside, with those `beside` it that are there.

    One of the same name that was set aside before gives way. OutsideFailure where it cannot be.
    """
    away = path.parent / AWAY
    try:
        away.mkdir(exist_ok=True)
        for one in (path, *beside):
            if one.is_file() or one == path:
                one.replace(away / one.name)
    except OSError as error:
        says = f"it cannot be taken away ({error.strerror})"
        raise OutsideFailure(says, at=path.name) from error


def names_aside(folder: Path, suffixes: Iterable[str]) -> tuple[str, ...]:
    """Return the names of the files of these kinds that were set aside in `folder`, in order."""
    away, kinds = folder / AWAY, tuple(suffixes)
    if not away.is_dir():
        return ()
    return tuple(
        sorted(p.name for p in away.iterdir() if p.is_file() and p.suffix.lower() in kinds)
    )


def bring_back(folder: Path, name: str) -> None:
    """Bring the file `name` back into `folder`, with what was kept beside it.

    BadInput where it is not there, or another of its name has come meanwhile.
    """
    for one in _belonging(folder, name):
        if (folder / one.name).exists():
            raise BadInput("another of this name is here now; take that away first", at=name)
    try:
        for one in _belonging(folder, name):
            one.replace(folder / one.name)
    except OSError as error:
        says = f"it cannot be brought back ({error.strerror})"
        raise OutsideFailure(says, at=name) from error


def delete_aside(folder: Path, name: str) -> None:
    """Delete the file `name` that was set aside, with what was kept beside it, for good."""
    try:
        for one in _belonging(folder, name):
            one.unlink(missing_ok=True)
    except OSError as error:
        says = f"it cannot be deleted ({error.strerror})"
        raise OutsideFailure(says, at=name) from error


def _belonging(folder: Path, name: str) -> list[Path]:
    """Return the file `name` that was set aside and those kept beside it, which begin with its
    whole name."""
    away = folder / AWAY
    is_plain = name not in ("", ".", "..") and not any(c in name for c in "/\\\0")
    there = [p for p in away.iterdir() if p.is_file()] if is_plain and away.is_dir() else []
    if name not in {p.name for p in there}:
        raise BadInput("there is nothing of this name that was taken away", at=name[:80])
    return [p for p in there if p.name == name or p.name.startswith(f"{name}.")]
