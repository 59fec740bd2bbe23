"""What the makers ask of the folder that a session is made in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Protocol


class SessionFolder(Protocol):
    """A folder whose files can be told apart by what is in them."""

    path: Path

    def digest(self, name: str) -> str | None:
        """Return the SHA-256 of the file `name`, or None where it is not there."""

    def read_made(self) -> Mapping[str, object]:
        """Return what made.json says; empty where it is missing or cannot be understood."""

    def write_made(self, made: Mapping[str, object]) -> None:
        """Write made.json, whole or not at all."""

    def remove(self, name: str) -> None:
        """Take away the file `name` of this folder, if it is there; never one outside it."""
