"""The routines of a studio on disk, each with all its versions.

    routines/<slug>/brief.toml, routine.json       as everywhere
    routines/<slug>/versions/                      all versions, and which one stands
    put-away/<slug>/                               the same, of routines that were put away

A version is on disk before the history names it, and the history before brief.toml and routine.json
are written again; so a machine that stops at any instant loses nothing that was acknowledged. A
routine.json changed by another hand is taken in as one more version, be it one that there was.
"""

from __future__ import annotations

import fcntl
import os
import re
import shutil
import tempfile
import time
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from rondel.adapters.atomic import write_text
from rondel.adapters.brief_beside import BRIEF, brief_goes_along, brief_text
from rondel.adapters.routine_versions import HISTORY, VERSIONS, Versions, version_of
from rondel.adapters.set_aside import AWAY
from rondel.adapters.studio_files import read_routine, routine_text
from rondel.model.errors import BadInput, OutsideFailure, RondelError
from rondel.model.history import History, Step
from rondel.model.routine import Routine

ROUTINES, ROUTINE = "routines", "routine.json"
#: What a folder may be called that the desk opens: letters of any script, digits, spaces, hyphens,
#: dots inside, so that its name can stand in an address. Those made here are plainer: `slug_of`.
SLUG = re.compile(r"\w(?:[\w .-]{0,62}[\w-])?")
#: The folders of a routine that are written to through files with other names, and how long such
#: a file was not written to where nobody is at it any more.
WRITTEN, OLD_SECONDS = (".", VERSIONS, "music", "takes", "voice", "voice/.raw"), 900.0
#: A sentence for what nobody did here.
FOUND = "It was here already."
FROM_OUTSIDE = "It was changed outside the desk."
#: Where routines lie that were put away, beside `ROUTINES`.
PUT_AWAY = "put-away"
#: What goes along with a routine that is begun from another, and what of it does not.
GOES_ALONG, STAYS = ("music", "takes", "voice"), (AWAY, ".raw", ".part-*", ".lock")


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
        """Return the folders that hold a brief or a routine, in order of their names.

        Some may be called so that they cannot be opened here: `folder` says so.
        """
        if not self.home.is_dir():
            return ()
        return tuple(
            p.name
            for p in sorted(self.home.iterdir())
            if not p.name.startswith(".")
            and any((p / part).is_file() for part in (ROUTINE, BRIEF, f"{VERSIONS}/{HISTORY}"))
        )

    def folder(self, slug: str) -> Path:
        """Return the folder of `slug`.

        BadInput where there is none, where it is called so that it cannot stand in an address, or
        where it or anything in it leads out of the studio.
        """
        is_name = bool(SLUG.fullmatch(slug))
        path = self.home / (slug if is_name else _plain_part(slug))
        if not path.is_dir():
            raise BadInput("there is no such routine in this studio", at=slug[:70])
        if not is_name:
            says = (
                "the desk cannot open a folder of this name; rename it with letters, digits, "
                "spaces and hyphens, at most 64"
            )
            raise BadInput(says, at=slug[:70])
        refuse_ways_out(path, self.home.parent)
        return path

    def has_routine(self, slug: str) -> bool:
        """True where there is one, or one was there and its versions still are."""
        folder = self.folder(slug)
        return (folder / ROUTINE).is_file() or Versions(folder).has_any()

    def open(self, slug: str) -> Kept:
        """Return the routine of `slug` as it stands. BadInput where it will not do."""
        folder = self.folder(slug)
        try:
            with self._alone(folder):
                return self._read(slug, folder)
        except OutsideFailure:
            # A studio that cannot be written to, or has no room, can still be looked at.
            return self._looked_at(slug, folder)

    def add(self, routine: Routine, brief_text: str, says: str, *, over: str = "") -> Kept:
        """Keep a new routine in a folder of its own, or in the folder `over`, which has none.

        Raises Stale where `over` has one, OutsideFailure where nothing can be written.
        """
        text = routine_text(routine)
        history = History(steps=(Step(version=version_of(text), says=says),))
        if over:
            folder = self.folder(over)
            with self._alone(folder):
                if self.has_routine(over):
                    raise Stale("", self._read(over, folder))
                self._write(folder, history, text)
            return Kept(slug=over, folder=folder, routine=routine, history=history)

        def fill(scratch: Path) -> None:
            if brief_text:
                write_text(scratch / BRIEF, brief_text)
            self._write(scratch, history, text)

        folder = self._whole_folder(slug_of(routine.title), fill)
        return Kept(slug=folder.name, folder=folder, routine=routine, history=history)

    def add_beside(self, slug: str, routine: Routine, says: str) -> Kept:
        """Keep a routine that was planned from the brief of `slug` in a folder of its own, from
        where its track is found. Raises OutsideFailure where nothing can be written."""
        found = self._from_beside(slug, routine)
        return self.add(found, brief_text(found.brief) if found.brief else "", says)

    def just_so(self, slug: str, routine: Routine) -> str:
        """Return the folder in which `routine`, planned from the brief of `slug`, stands just so
        already, title and wishes and all; "" where it stands in none."""
        text = routine_text(self._from_beside(slug, routine))
        for other in self.slugs():
            with suppress(RondelError):  # what cannot be read is not the same
                if routine_text(read_routine(self.folder(other) / ROUTINE)) == text:
                    return other
        return ""

    def _from_beside(self, slug: str, routine: Routine) -> Routine:
        from rondel.adapters.track_place import named_from  # which reads sound, and takes a while

        return named_from(routine, self.folder(slug), self.home / slug_of(routine.title))

    def another(self, slug: str, routine: Routine, says: str, *, seen: str) -> Kept:
        """Keep `routine`, begun from the one of `slug`, in a folder of its own.

        Brief, music, takes and recordings go along; history and made sessions do not. Stale where
        `seen` stands no more, OutsideFailure where nothing can be written.
        """
        home, text = self.folder(slug), routine_text(routine)
        history = History(steps=(Step(version=version_of(text), says=says),))
        with self._alone(home):
            kept = self._fresh(slug, home, seen)

            def fill(scratch: Path) -> None:
                if (home / BRIEF).is_file():
                    shutil.copyfile(home / BRIEF, scratch / BRIEF)
                brief_goes_along(scratch, kept.routine.brief, routine.brief)
                for name in GOES_ALONG:
                    if (home / name).is_dir():
                        stays = shutil.ignore_patterns(*STAYS)
                        shutil.copytree(home / name, scratch / name, ignore=stays)
                self._write(scratch, history, text)

            folder = self._whole_folder(slug_of(routine.title), fill)
        return Kept(slug=folder.name, folder=folder, routine=routine, history=history)

    def _whole_folder(self, slug: str, fill: Callable[[Path], None]) -> Path:
        """Return the folder of a new routine, which is there whole or not at all."""
        scratch = ""
        try:
            self.home.mkdir(parents=True, exist_ok=True)
            scratch = tempfile.mkdtemp(prefix=".new-", dir=self.home)
            Path(scratch).chmod(0o755)
            fill(Path(scratch))
            with self._naming():
                folder = self.home / _free(self.home, slug)
                Path(scratch).rename(folder)
        except (OSError, shutil.Error) as error:
            why = getattr(error, "strerror", None) or "not all of it can be copied"
            says = f"the routine could not be kept ({why})"
            raise OutsideFailure(says, at=str(self.home)) from error
        finally:
            if scratch:
                shutil.rmtree(scratch, ignore_errors=True)
        return folder

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
            self._write(folder, history, text, was=kept, now=routine)
            return Kept(slug=slug, folder=folder, routine=routine, history=history)

    def back(self, slug: str, *, seen: str) -> Kept:
        """Take the last step back. Stale where `seen` stands no more."""
        return self._go(slug, seen, is_back=True)

    def on(self, slug: str, *, seen: str) -> Kept:
        """Do the step again that was taken back. Stale where `seen` stands no more."""
        return self._go(slug, seen, is_back=False)

    def put_away(self, slug: str, *, seen: str) -> str:
        """Move a routine, with all that belongs to it, out of the way; return its name there.

        Stale where `seen` (empty for one that cannot be read, or is not planned yet) stands no
        more.
        """
        folder, away = self.folder(slug), self._away()
        if folder.is_symlink():
            raise BadInput("this folder is a link; move what it leads to by hand", at=slug)
        with self._alone(folder):
            try:
                kept = self._read(slug, folder)
            except BadInput:
                kept = None
            if kept is not None and kept.version != seen:
                raise Stale(seen, kept)
            return self._moved(folder, away)

    def put_away_names(self) -> tuple[str, ...]:
        """Return the names of the routines that were put away, in order."""
        away = self.home.parent / PUT_AWAY
        there = away.iterdir() if away.is_dir() and not away.is_symlink() else ()
        return tuple(sorted(p.name for p in there if p.is_dir() and SLUG.fullmatch(p.name)))

    def put_away_folder(self, name: str) -> Path:
        """Return where a routine lies that was put away; BadInput where there is none."""
        if name not in self.put_away_names():
            raise BadInput("there is no such routine among those put away", at=name[:70])
        refuse_ways_out(self._away() / name, self.home.parent)
        return self._away() / name

    def bring_back(self, name: str) -> str:
        """Move a routine back among the others, under another name where its own is taken; return
        the name."""
        return self._moved(self.put_away_folder(name), self.home)

    def _away(self) -> Path:
        away = self.home.parent / PUT_AWAY
        if away.is_symlink():
            raise BadInput("this folder is a link; put a folder in its place", at=PUT_AWAY)
        return away

    def _moved(self, folder: Path, to: Path) -> str:
        """Move `folder` into the folder `to` and return its name there: one that was free."""
        try:
            to.mkdir(parents=True, exist_ok=True)
            with self._naming():
                name = _free(to, folder.name)
                folder.rename(to / name)
        except OSError as error:
            says = f"the routine could not be moved ({error.strerror})"
            raise OutsideFailure(says, at=folder.name) from error
        return name

    def routine_at(self, slug: str, version: str) -> Routine:
        """Return a version of a routine; BadInput where it is not there."""
        path = Versions(self.folder(slug)).path(version)
        if path is None:
            raise BadInput("there is no such version of this routine", at=slug)
        return read_routine(path)

    def sweep(self) -> None:
        """Take away what was half written here as a desk or a machine stopped.

        What was written to lately may be another desk's that is still at it, and stays.
        """
        if not self.home.is_dir():
            return
        for folder in (p for p in self.home.iterdir() if p.is_dir() and not p.is_symlink()):
            if folder.name.startswith(".new-"):
                if _is_old(folder):
                    shutil.rmtree(folder, ignore_errors=True)
                continue
            for part in (p for name in WRITTEN for p in (folder / name).glob(".part-*")):
                if part.is_file() and _is_old(part) and not part.parent.is_symlink():
                    part.unlink(missing_ok=True)

    # ------------------------------------------------------------------ inside
    def _go(self, slug: str, seen: str, *, is_back: bool) -> Kept:
        folder = self.folder(slug)
        with self._alone(folder):
            kept = self._fresh(slug, folder, seen)
            history = kept.history.back() if is_back else kept.history.on()
            routine = self.routine_at(slug, history.now.version)
            self._write(folder, history, routine_text(routine), was=kept, now=routine)
            return Kept(slug=slug, folder=folder, routine=routine, history=history)

    def _fresh(self, slug: str, folder: Path, seen: str) -> Kept:
        kept = self._read(slug, folder)
        if kept.version != seen:
            raise Stale(seen, kept)
        return kept

    def _read(self, slug: str, folder: Path) -> Kept:
        """Return what stands; put right what an instant's end, or another hand, left apart."""
        path, versions = folder / ROUTINE, Versions(folder)
        there = read_routine(path) if path.is_file() else None
        text = "" if there is None else routine_text(there)
        version = None if there is None else version_of(text)
        history = versions.history(version)
        if history is None and there is None:
            raise BadInput("there is no routine here yet", at=slug)
        begun_after = versions.begun_after()
        if history is not None and history.now.version == version and there is not None:
            if begun_after is not None:
                versions.end()
            return Kept(slug=slug, folder=folder, routine=there, history=history)
        if history is not None and (there is None or begun_after == version):
            # The step was in the history, and so acknowledged, before routine.json was written.
            routine = self.routine_at(slug, history.now.version)
            if there is not None:
                brief_goes_along(folder, there.brief, routine.brief)
            write_text(path, routine_text(routine))
            versions.end()
            return Kept(slug=slug, folder=folder, routine=routine, history=history)
        assert there is not None
        assert version is not None
        step = Step(version=version, says=FROM_OUTSIDE if history else FOUND)
        history = history.then(step) if history else History(steps=(step,))
        self._write(folder, history, text)
        return Kept(slug=slug, folder=folder, routine=there, history=history)

    def _looked_at(self, slug: str, folder: Path) -> Kept:
        """Return what stands without writing anything."""
        path, versions = folder / ROUTINE, Versions(folder)
        there = read_routine(path) if path.is_file() else None
        version = None if there is None else version_of(routine_text(there))
        history = versions.history(version, mends=False)
        if history is None:
            if there is None or version is None:
                raise BadInput("there is no routine here yet", at=slug)
            history = History(steps=(Step(version=version, says=FOUND),))
        elif history.now.version != version:
            if there is None or versions.begun_after() == version:
                there = self.routine_at(slug, history.now.version)
            else:
                history = history.then(Step(version=version or "", says=FROM_OUTSIDE))
        assert there is not None
        return Kept(slug=slug, folder=folder, routine=there, history=history)

    def _write(
        self,
        folder: Path,
        history: History,
        text: str,
        *,
        was: Kept | None = None,
        now: Routine | None = None,
    ) -> None:
        """Keep a step: its version first, then the history, then what lies beside. After `was`,
        what brief.toml says changes as the brief does."""
        versions = Versions(folder)
        versions.keep(history.now.version, text)
        if was is not None:
            versions.begin(was.version)
        versions.write(history)
        if was is not None and now is not None:
            brief_goes_along(folder, was.routine.brief, now.brief)
        write_text(folder / ROUTINE, text)
        versions.end()

    @contextmanager
    def _naming(self) -> Iterator[None]:
        """Keep others from taking the same new name meanwhile."""
        self.home.mkdir(parents=True, exist_ok=True)
        handle = os.open(self.home, os.O_RDONLY)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)

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


def _free(folder: Path, name: str) -> str:
    """Return `name`, or one like it that nothing in `folder` has."""
    number, found = 1, name
    while (folder / found).exists() or (folder / found).is_symlink():
        number += 1
        found = f"{name[:60]}-{number}"
    return found


def _is_old(path: Path) -> bool:
    try:
        return time.time() - path.stat().st_mtime > OLD_SECONDS
    except OSError:
        return False


def _plain_part(name: str) -> str:
    """Return `name` if it is the name of one file or folder, else one that is never there."""
    is_plain = name not in ("", ".", "..") and not any(c in name for c in "/\\\0")
    return name if is_plain and len(name.encode("utf-8", "replace")) < 256 else ".none"


def refuse_ways_out(folder: Path, studio: Path) -> None:
    """Raise BadInput for the first link in `folder`, or for `folder` itself, that leads out of
    `studio`: nothing outside is ever read, written or taken away by way of a studio."""
    if folder.resolve() != folder and not folder.resolve().is_relative_to(studio):
        raise BadInput("this folder leads out of the studio", at=folder.name)
    waiting = [folder]
    while waiting:
        try:
            entries = list(os.scandir(waiting.pop()))
        except OSError:
            continue  # what cannot be looked into cannot be read by way of it either
        for entry in entries:
            if entry.is_symlink():
                if not Path(entry.path).resolve().is_relative_to(studio):
                    raise BadInput(
                        "this is a link that leads out of the studio; copy here what it leads "
                        "to, or take the link away",
                        at=str(Path(entry.path).relative_to(studio)),
                    )
            elif entry.is_dir():
                waiting.append(Path(entry.path))
