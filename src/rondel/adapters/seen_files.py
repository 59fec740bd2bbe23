"""The file beside a take: `<name>.strokes.json`."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path

from rondel.adapters.atomic import write_text
from rondel.model.codec.fields import Fields
from rondel.model.codec.take import seen_from_dict, seen_to_dict
from rondel.model.errors import BadInput
from rondel.model.take import Seen

ROOT = Path(__file__).resolve().parent.parent
#: No file of what was seen is larger: three hours of strokes are some megabytes.
MOST_BYTES = 64 * 1024 * 1024


def seen_path(take: Path, folder: Path | None = None) -> Path:
    """Return where what was seen in `take` lies: beside it, or in `folder`."""
    return (folder or take.parent) / f"{take.stem}.strokes.json"


class FilesBesideTake:
    """The port `BesideTake`. What was seen is kept in `folder`, or beside the take; with `keeps`
    off nowhere: a folder that is no studio gets no files that nobody asked for."""

    def __init__(self, folder: Path | None = None, *, keeps: bool = True) -> None:
        self._folder = folder
        self._keeps = keeps

    def kept(self, take: Path, made_from: str) -> Seen | None:
        path = seen_path(take, self._folder)
        try:
            if path.stat().st_size > MOST_BYTES:
                return None
            data = json.loads(path.read_text("utf-8"))
            if Fields(data, at=path.name).text("made_from") != made_from:
                return None
            return seen_from_dict(data, at=path.name)
        except (OSError, ValueError, RecursionError, BadInput):
            return None  # then the take is watched anew

    def keep(self, take: Path, seen: Seen, made_from: str) -> None:
        if not self._keeps:
            return
        data = {"take": take.name, **seen_to_dict(seen), "made_from": made_from}
        text = json.dumps(data, ensure_ascii=False)
        write_text(seen_path(take, self._folder), text + "\n")


@cache
def watching_digest() -> str:
    """Return the SHA-256 of Rondel's way of watching: with another, takes are watched again."""
    total = hashlib.sha256()
    files = [*(ROOT / "watching").glob("*.py"), ROOT / "adapters" / "motion_flow.py"]
    files += [ROOT / "adapters" / "take_reading.py", ROOT / "app" / "watch_take.py"]
    for path in sorted(files):
        total.update(path.relative_to(ROOT).as_posix().encode())
        total.update(path.read_bytes())
    return total.hexdigest()
