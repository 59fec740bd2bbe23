"""The folder that a session is made in, on this machine's disk."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from rondel.adapters.atomic import write_text
from rondel.model.errors import BadInput, OutsideFailure

MADE = "made.json"


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

    def sweep(self) -> None:
        """Take away what an interrupted make left half written."""
        try:
            for part in self.path.rglob(".part-*"):
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
