"""The folder that a session is made in, on this machine's disk."""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from rondel.adapters.atomic import write_text
from rondel.model.errors import BadInput, OutsideFailure

MADE = "made.json"
#: The folders inside a session.
INNER = ("stems", "follow")
#: The packages that shape what is made; made.json tells their versions.
SHAPING = (
    *("av", "hibari-tts", "mido", "numpy", "opencv-python-headless", "resvg-py", "scipy"),
    *("soundfile", "soxr", "tinysoundfont", "typst"),
)


def is_session(folder: Path) -> bool:
    """True where a session was made in `folder`."""
    return (folder / MADE).is_file()


def home_of(file: Path) -> Path:
    """Return the folder beside which a brief or routine in `file` has its music, takes and voice.

    A routine inside a session belongs to the folder that the session lies in.
    """
    folder = file.resolve().parent
    return folder.parent if is_session(folder) else folder


class DiskFolder:
    """A session folder on disk; made when first written to."""

    def __init__(self, path: Path) -> None:
        if path.exists() and not path.is_dir():
            raise BadInput("this is a file, and the session needs a folder", at=str(path))
        self.path = path

    def digest(self, name: str) -> str | None:
        """Return the SHA-256 of the file `name`, or None where it is not there."""
        target = self.path / name
        if not target.is_file():
            return None
        with target.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()

    def read_made(self) -> Mapping[str, object]:
        """Return what made.json says; empty where it is missing or cannot be understood."""
        try:
            made = json.loads((self.path / MADE).read_text("utf-8"))
        except (OSError, ValueError, RecursionError):
            return {}
        return made if isinstance(made, dict) else {}

    def write_made(self, made: Mapping[str, object]) -> None:
        """Write made.json, whole or not at all."""
        write_text(self.path / MADE, json.dumps(made, ensure_ascii=False, indent=1) + "\n")

    def remove(self, name: str) -> None:
        """Take away the file `name` of this folder, if it is there; never one outside it."""
        target = (self.path / name).resolve()
        if self.path.resolve() not in target.parents:
            return
        try:
            target.unlink(missing_ok=True)
        except OSError as error:
            says = f"the file cannot be taken away ({error.strerror})"
            raise OutsideFailure(says, at=str(target)) from error

    def sweep(self) -> None:
        """Take away what an interrupted make left half written; look nowhere but where it wrote."""
        try:
            for folder in (self.path, *(self.path / name for name in INNER)):
                for part in folder.glob(".part-*"):
                    part.unlink(missing_ok=True)
        except OSError as error:
            raise OutsideFailure(
                f"the session folder cannot be tidied ({error.strerror})", at=str(self.path)
            ) from error


@cache
def program_digest() -> str:
    """Return the SHA-256 of Rondel's own code and data: another program makes another session."""
    root = Path(__file__).resolve().parent.parent
    total = hashlib.sha256()
    kept = (p for p in root.rglob("*") if p.is_file() and "__pycache__" not in p.parts)
    for path in sorted(kept):
        total.update(path.relative_to(root).as_posix().encode())
        total.update(path.read_bytes())
    return total.hexdigest()


@cache
def versions() -> dict[str, str]:
    """Return the versions of Rondel, of Python and of every package that shapes a session."""
    found = {"rondel": version("rondel"), "python": platform.python_version()}
    for name in SHAPING:
        try:
            found[name] = version(name)
        except PackageNotFoundError:  # an optional extra
            continue
    return found
