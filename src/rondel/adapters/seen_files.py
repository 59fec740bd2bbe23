"""The files beside a take: `<name>.strokes.json` and `<name>.corrections.toml`.

Names are whole, as in `hands.mp4.strokes.json`: `hands.mov` beside it is another take.
"""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from functools import cache
from pathlib import Path

from rondel.adapters.atomic import write_or_take_away, write_text
from rondel.adapters.craft_files import read_toml
from rondel.model.codec.fields import Fields
from rondel.model.codec.take import seen_from_dict, seen_to_dict
from rondel.model.codec.take_corrections import take_corrections_from_dict, take_corrections_text
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.take import Seen
from rondel.model.take_corrections import NONE, TakeCorrections

ROOT = Path(__file__).resolve().parent.parent
#: No file of what was seen is larger: three hours of strokes are some megabytes.
MOST_BYTES = 64 * 1024 * 1024


def seen_path(take: Path, folder: Path | None = None) -> Path:
    """Return where what was seen in `take` lies: beside it, or in `folder`."""
    return (folder or take.parent) / f"{take.name}.strokes.json"


def take_corrections_path(take: Path) -> Path:
    """Return where what was put right in `take` lies."""
    return take.parent / f"{take.name}.corrections.toml"


class FilesBesideTake:
    """The port `BesideTake`. What was seen is kept in `folder`, or beside the take; with `keeps`
    off nowhere: a folder that is no studio gets no files that nobody asked for.

    Beside a take it saves time and no more: a take on a full disk, or one that is only to be read,
    is watched all the same, and again the next time.
    """

    def __init__(self, folder: Path | None = None, *, keeps: bool = True) -> None:
        self._folder = folder
        self._keeps = keeps

    def kept(self, take: Path, made_from: str) -> Seen | None:
        path = seen_path(take, self._folder)
        try:
            if path.stat().st_size > MOST_BYTES:
                return None
            f = Fields(json.loads(path.read_text("utf-8")), at=path.name)
            if f.text("made_from") != made_from:
                return None
            return seen_from_dict(f.raw("first_seen"), at=path.name)
        except (OSError, ValueError, RecursionError, BadInput):
            return None  # then the take is watched anew

    def keep(self, take: Path, first: Seen, seen: Seen, made_from: str) -> None:
        if not self._keeps:
            return
        data = {
            "take": take.name,
            **seen_to_dict(seen),
            "first_seen": seen_to_dict(first),
            "made_from": made_from,
        }
        text = json.dumps(data, ensure_ascii=False)
        path = seen_path(take, self._folder)
        try:
            write_text(path, text + "\n")
        except OutsideFailure:
            if self._folder is not None:
                raise
            with suppress(OSError):
                path.unlink(missing_ok=True)  # of earlier corrections

    def corrections(self, take: Path) -> TakeCorrections:
        path = take_corrections_path(take)
        if not path.exists():
            return NONE
        return take_corrections_from_dict(read_toml(path), at=path.name)

    def correct(self, take: Path, corrections: TakeCorrections) -> None:
        path = take_corrections_path(take)
        text = None if corrections.is_empty else take_corrections_text(corrections)
        write_or_take_away(path, text)


@cache
def watching_digest() -> str:
    """Return the SHA-256 of Rondel's way of watching: with another, takes are watched again."""
    total = hashlib.sha256()
    files = [*(ROOT / "watching").glob("*.py"), ROOT / "adapters" / "motion_flow.py"]
    files += [ROOT / "adapters" / "take_reading.py", ROOT / "adapters" / "take_opening.py"]
    files += [ROOT / "app" / "watch_take.py"]
    for path in sorted(files):
        total.update(path.relative_to(ROOT).as_posix().encode())
        total.update(path.read_bytes())
    return total.hexdigest()
