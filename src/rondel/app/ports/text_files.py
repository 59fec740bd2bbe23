"""What the app asks of whatever writes text to disk."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol


class WriteText(Protocol):
    """Writes a file in UTF-8, whole or not at all; raises OutsideFailure where it cannot."""

    def __call__(self, path: Path, text: str) -> None: ...
