"""The routines of a studio on disk, each with all its versions.

    routines/<slug>/brief.toml, routine.json       as everywhere
    routines/<slug>/versions/history.json          which versions there were, and which one stands
    routines/<slug>/versions/<digest>.json         the versions themselves, never written twice

A version is on disk before the history names it, and the history before routine.json is written
again; so a machine that stops at any instant loses nothing that was acknowledged. A routine.json
changed by another hand is taken in as one more version.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import re
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rondel.adapters.atomic import write_text
from rondel.adapters.studio_files import read_routine, routine_text
from rondel.model.errors import BadInput, OutsideFailure, RondelError
from rondel.model.history import History, Step
from rondel.model.routine import Routine

ROUTINES, ROUTINE, BRIEF = "routines", "routine.json", "brief.toml"
VERSIONS, HISTORY = "versions", "history.json"
SLUG = re.compile(r"[a-z0-9][a-z0-9-]{0,63}")
_VERSION = re.compile(r"[0-9a-f]{24}")
#: A sentence for what nobody did here.
FOUND = "It was here already."
FROM_OUTSIDE = "It was changed outside the desk."


class Stale(RondelError):
    """Somebody changed the routine since it was looked at. `seen` and `kept` are both versions."""

    exit_code = 1

    def __init__(self, seen: str, kept: Kept) -> None:
        super().__init__("this routine was changed in another window since you looked at it")
        self.seen, self.kept = seen, kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A routine as it stands, with its history."""

    slug: str
    folder: Path
    routine: Routine
    history: History

    @property
    def version(self) -> str:
        return self.history.now.version


def version_of(text: str) -> str:
    """Return the name of a version: the first 24 digits of the SHA-256 of its text."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:24]


def slug_of(title: str, empty: str = "routine") -> str:
    """Return a name of small letters, digits and hyphens for `title`; `empty` where it has none.

    >>> slug_of("Lamplight, für zwei"), slug_of("夜")
    ('lamplight-fur-zwei', 'routine')
    """
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40].strip("-") or empty


class Shelf:
    """The routines in the folder `studio`."""

    def __init__(self, studio: Path) -> None:
        self.home = studio.resolve() / ROUTINES

    def slugs(self) -> tuple[str, ...]:
        """Return the folders that hold a brief or a routine, in order of their names."""
        if not self.home.is_dir():
            return ()
        return tuple(
            p.name
            for p in sorted(self.home.iterdir())
            if SLUG.fullmatch(p.name)
            and self._is_inside(p)
            and ((p / ROUTINE).is_file() or (p / BRIEF).is_file())
        )

    def folder(self, slug: str) -> Path:
        """Return the folder of `slug`; BadInput where there is none, or it leads elsewhere."""
        path = self.home / slug
        if not SLUG.fullmatch(slug) or not path.is_dir() or not self._is_inside(path):
            raise BadInput("there is no such routine in this studio", at=slug[:70])
        return path

    def has_routine(self, slug: str) -> bool:
        return (self.folder(slug) / ROUTINE).is_file()

    def open(self, slug: str) -> Kept:
        """Return the routine of `slug` as it stands. BadInput where it will not do."""
        folder = self.folder(slug)
        with self._alone(folder):
            return self._read(slug, folder)

    def add(self, routine: Routine, brief_text: str, says: str, *, over: str = "") -> Kept:
        """Keep a new routine in a folder of its own, or in the folder `over`, which has none."""
        slug = over or self._free(slug_of(routine.title))
        folder = self.home / slug
        folder.mkdir(parents=True, exist_ok=True)
        with self._alone(folder):
            if over and (folder / ROUTINE).is_file():
                raise Stale("", self._read(slug, folder))
            if brief_text:
                write_text(folder / BRIEF, brief_text)
            text = routine_text(routine)
            history = History(steps=(Step(version=version_of(text), says=says),))
            self._write(folder, history, routine, text)
            return Kept(slug=slug, folder=folder, routine=routine, history=history)

    def put(
        self, slug: str, routine: Routine, says: str, *, moved: Sequence[str] = (), seen: str
    ) -> Kept:
        """Keep a changed routine as the version after `seen`; Stale if that one stands no more."""
        folder = self.folder(slug)
        with self._alone(folder):
            kept = self._fresh(slug, folder, seen)
            text = routine_text(routine)
            step = Step(version=version_of(text), says=says, moved=tuple(moved))
            history = kept.history.then(step)
            self._write(folder, history, routine, text)
            return Kept(slug=slug, folder=folder, routine=routine, history=history)

    def back(self, slug: str, *, seen: str) -> Kept:
        """Take the last step back. Stale where `seen` stands no more."""
        return self._go(slug, seen, is_back=True)

    def on(self, slug: str, *, seen: str) -> Kept:
        """Do the step again that was taken back. Stale where `seen` stands no more."""
        return self._go(slug, seen, is_back=False)

    def routine_at(self, slug: str, version: str) -> Routine:
        """Return a version of a routine; BadInput where it is not there."""
        path = self.folder(slug) / VERSIONS / f"{version}.json"
        if not _VERSION.fullmatch(version) or not path.is_file():
            raise BadInput("there is no such version of this routine", at=slug)
        return read_routine(path)

    # ------------------------------------------------------------------ inside
    def _go(self, slug: str, seen: str, *, is_back: bool) -> Kept:
        folder = self.folder(slug)
        with self._alone(folder):
            kept = self._fresh(slug, folder, seen)
            history = kept.history.back() if is_back else kept.history.on()
            routine = self.routine_at(slug, history.now.version)
            self._write(folder, history, routine, routine_text(routine))
            return Kept(slug=slug, folder=folder, routine=routine, history=history)

    def _fresh(self, slug: str, folder: Path, seen: str) -> Kept:
        kept = self._read(slug, folder)
        if kept.version != seen:
            raise Stale(seen, kept)
        return kept

    def _read(self, slug: str, folder: Path) -> Kept:
        """Return what stands; put right what an instant's end, or another hand, left apart."""
        path = folder / ROUTINE
        history = _history_in(folder)
        if not path.is_file() and history is None:
            raise BadInput("there is no routine here yet", at=slug)
        routine = read_routine(path) if path.is_file() else None
        text = "" if routine is None else routine_text(routine)
        version = version_of(text)
        if history is not None and history.now.version == version and routine is not None:
            return Kept(slug=slug, folder=folder, routine=routine, history=history)
        if history is not None and (routine is None or history.knows(version)):
            # The history was written, routine.json not yet: the history is what was acknowledged.
            routine = self.routine_at(slug, history.now.version)
            write_text(path, routine_text(routine))
            return Kept(slug=slug, folder=folder, routine=routine, history=history)
        assert routine is not None
        step = Step(version=version, says=FROM_OUTSIDE if history else FOUND)
        history = history.then(step) if history else History(steps=(step,))
        self._write(folder, history, routine, text)
        return Kept(slug=slug, folder=folder, routine=routine, history=history)

    def _write(self, folder: Path, history: History, routine: Routine, text: str) -> None:
        versions = folder / VERSIONS
        path = versions / f"{history.now.version}.json"
        if not path.is_file():
            write_text(path, text)
        write_text(versions / HISTORY, _history_text(history))
        write_text(folder / ROUTINE, text)

    def _free(self, slug: str) -> str:
        number, name = 1, slug
        while (self.home / name).exists():
            number += 1
            name = f"{slug}-{number}"
        return name

    def _is_inside(self, path: Path) -> bool:
        return path.is_dir() and path.resolve().parent == self.home.resolve()

    @contextmanager
    def _alone(self, folder: Path) -> Iterator[None]:
        """Keep other windows, threads and programs from writing here meanwhile."""
        try:
            (folder / VERSIONS).mkdir(exist_ok=True)
            handle = os.open(folder / VERSIONS / ".lock", os.O_RDWR | os.O_CREAT, 0o644)
        except OSError as error:
            says = f"this folder cannot be written to ({error.strerror})"
            raise OutsideFailure(says, at=str(folder)) from error
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)


def _history_text(history: History) -> str:
    steps = [
        {"version": s.version, "says": s.says, **({"moved": list(s.moved)} if s.moved else {})}
        for s in history.steps
    ]
    return json.dumps({"at": history.at, "steps": steps}, ensure_ascii=False, indent=1) + "\n"


def _history_in(folder: Path) -> History | None:
    """Return the history kept in `folder`; None where there is none, or it cannot be read."""
    try:
        data = json.loads((folder / VERSIONS / HISTORY).read_text("utf-8"))
        steps = tuple(
            Step(
                version=str(s["version"]),
                says=str(s["says"]),
                moved=tuple(str(m) for m in s.get("moved", ())),
            )
            for s in data["steps"]
        )
        history = History(steps=steps, at=int(data["at"]))
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None
    is_whole = all(
        _VERSION.fullmatch(s.version) and (folder / VERSIONS / f"{s.version}.json").is_file()
        for s in history.steps
    )
    return history if is_whole else None
