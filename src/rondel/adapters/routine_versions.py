"""The versions of one routine on disk, in the folder `versions` beside it.

    history.json      which versions there were, and which one stands
    <digest>.json     the versions themselves, never written twice
    .writing          while a step is being kept: the version that stood before it

What is spoilt here is kept aside, and the history made anew of the versions that are there.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from pathlib import Path

from rondel.adapters.atomic import write_text
from rondel.model.history import History, Step

VERSIONS, HISTORY, WRITING = "versions", "history.json", ".writing"
_VERSION = re.compile(r"[0-9a-f]{24}")
#: A sentence for a version of which nothing more is known.
KEPT_EARLIER = "It was kept earlier; what was done then is not known any more."


def version_of(text: str) -> str:
    """Return the name of a version: the first 24 digits of the SHA-256 of its text."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:24]


@dataclass(frozen=True, slots=True)
class Versions:
    """The versions of the routine in `home`."""

    home: Path

    @property
    def folder(self) -> Path:
        return self.home / VERSIONS

    def path(self, version: str) -> Path | None:
        """Return where a version lies; None where it is not there."""
        path = self.folder / f"{version}.json"
        return path if _VERSION.fullmatch(version) and path.is_file() else None

    def has_any(self) -> bool:
        """True where at least one version is kept."""
        return any(_VERSION.fullmatch(p.stem) for p in self.folder.glob("*.json"))

    def keep(self, version: str, text: str) -> None:
        """Keep the text of a version, if it is not kept yet."""
        if self.path(version) is None:
            write_text(self.folder / f"{version}.json", text)

    def write(self, history: History) -> None:
        """Keep the history."""
        write_text(self.folder / HISTORY, _history_text(history))

    def begin(self, was: str) -> None:
        """Note that a step after the version `was` is being kept."""
        write_text(self.folder / WRITING, was)

    def end(self) -> None:
        """Note that no step is being kept."""
        (self.folder / WRITING).unlink(missing_ok=True)

    def begun_after(self) -> str | None:
        """Return the version that stood as a step was begun that has not ended; None where all
        have."""
        try:
            return (self.folder / WRITING).read_text("utf-8").strip()
        except (OSError, UnicodeDecodeError):
            return None

    def history(self, now: str | None, *, mends: bool = True) -> History | None:
        """Return the history; None where there is none and no version either.

        One that cannot be read is kept aside as history.json.broken and made anew of the versions,
        oldest first, standing at `now` if that is one of them. A step whose version is gone is left
        out.
        """
        path = self.folder / HISTORY
        try:
            found = self._whole(_history_from(path.read_text("utf-8")))
        except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
            found = None
            if mends and path.is_file():
                path.replace(self.folder / f"{HISTORY}.broken")
        return found or self._anew(now)

    def _whole(self, history: History) -> History | None:
        there = [self.path(step.version) is not None for step in history.steps]
        steps = tuple(s for s, is_there in zip(history.steps, there, strict=True) if is_there)
        if not steps:
            return None
        return History(steps=steps, at=max(0, sum(there[: history.at + 1]) - 1))

    def _anew(self, now: str | None) -> History | None:
        if not self.folder.is_dir():
            return None
        files = [p for p in self.folder.glob("*.json") if _VERSION.fullmatch(p.stem)]
        files.sort(key=lambda p: (p.stat().st_mtime_ns, p.name))
        names = [p.stem for p in files]
        if not names:
            return None
        steps = tuple(Step(version=name, says=KEPT_EARLIER) for name in names)
        return History(steps=steps, at=names.index(now) if now in names else len(names) - 1)


def _history_text(history: History) -> str:
    steps = [
        {"version": s.version, "says": s.says, **({"moved": list(s.moved)} if s.moved else {})}
        for s in history.steps
    ]
    return json.dumps({"at": history.at, "steps": steps}, ensure_ascii=False, indent=1) + "\n"


def _history_from(text: str) -> History:
    """Return the history in `text`; ValueError, KeyError or TypeError where it will not do."""
    data = json.loads(text)
    steps = tuple(
        Step(
            version=str(s["version"]),
            says=str(s["says"]),
            moved=tuple(str(m) for m in s.get("moved", ())),
        )
        for s in data["steps"]
    )
    return History(steps=steps, at=int(data["at"]))
