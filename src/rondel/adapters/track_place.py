"""Where a brought track lies, and what is known of it."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from pathlib import Path

from rondel.adapters.heard_files import FilesBesideTrack
from rondel.adapters.session_folder import home_of
from rondel.adapters.studio_files import require_free_for_routine, studio_of, write_routine
from rondel.adapters.track_files import TrackFiles
from rondel.app.hear_track import said_digest
from rondel.app.play_track import BroughtTrack
from rondel.model.errors import BadInput
from rondel.model.routine import Routine
from rondel.model.track import HeardFrom

CHANGED = (
    "{name} was changed since it was listened to. If its beats lie elsewhere now, plan the "
    "routine again."
)
OTHER_TRACK = (
    "{name} is not the file that this routine was planned to. Plan the routine again from its "
    "brief, or bring the file back."
)
PUT_RIGHT = (
    "What you have put right in {name} is not what it was when this routine was planned: its "
    "beats, sections or motif may lie elsewhere now. Plan the routine again from its brief."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """The track of a routine, if it has one, its SHA-256, and notes for the teacher."""

    track: BroughtTrack | None = None
    digest: str = ""
    notes: tuple[str, ...] = ()

    @property
    def inputs(self) -> dict[str, str]:
        """What made.json says that the session was made from."""
        return {self.track.name: self.digest} if self.track else {}


def find_track(name: str, home: Path, *, at: str) -> Path:
    """Return the file that a brief or routine in the folder `home` calls `name`.

    A name without a root is looked for in `home`, then in the folders above it up to the studio: a
    family of routines lies in a folder below its brief. Where there is no studio, only the one
    folder above is looked at. BadInput, naming the key `at`, where there is none.
    """
    places = _places(home)
    path = _found(name, places)
    if path is not None:
        return path
    looked = "" if Path(name).is_absolute() else f" in {' or in '.join(str(p) for p in places)}"
    raise BadInput(
        f'the track "{name}" is not there{looked}; bring it back, or name another', at=at
    )


def refuse_track_outside(name: str | None, home: Path, studio: Path) -> None:
    """Raise BadInput where the track that is called `name` in the folder `home` lies outside of
    `studio`. One that is not there is somebody else's to tell."""
    path = None if name is None else _found(name, _places(home))
    if path is not None and not path.resolve().is_relative_to(studio.resolve()):
        says = (
            f"the track “{name}” lies outside of this studio, and the desk reads nothing there; "
            "bring it on the Music leaf of a routine"
        )
        raise BadInput(says, at=home.name)


def _places(home: Path) -> list[Path]:
    """Return the folders in which a file in `home` may call a track by name, the first first."""
    home, studio = home.resolve(), studio_of(home)
    above = [p for p in home.parents if p.is_relative_to(studio)] if studio else home.parents[:1]
    return [home, *above]


def _found(name: str, places: list[Path]) -> Path | None:
    return next((place / name for place in places if (place / name).is_file()), None)


def named_from(routine: Routine, home: Path, to: Path) -> Routine:
    """Return `routine` with its track, which is found from the folder `home`, called as it is found
    from the folder `to`: by the same name if that will do, else by the way to it, or in full
    outside of the studio. A track that is not there keeps its name."""
    name = routine.music.path
    path = None if name is None else _found(name, _places(home))
    if routine.music.kind != "track" or name is None or path is None:
        return routine
    there = _found(name, _places(to))
    if there is not None and there.resolve() == path.resolve():
        return routine
    path, to = path.resolve(), to.resolve()
    studio = studio_of(to)
    is_near = path.is_relative_to(to) or (studio is not None and path.is_relative_to(studio))
    found = Path(os.path.relpath(path, to)).as_posix() if is_near else str(path)
    brief = routine.brief
    if brief is not None and brief.track is not None:
        brief = replace(brief, track=found)
    return replace(routine, music=replace(routine.music, path=found), brief=brief)


def write_routine_of(source: Path, path: Path, routine: Routine) -> None:
    """Write `routine`, planned from the file `source`, to `path`, from where its track is found.

    BadInput where something else than a routine lies at `path`.
    """
    require_free_for_routine(path)
    write_routine(path, named_from(routine, home_of(source), home_of(path)))


def brought_track(routine: Routine, home: Path, *, at: str) -> Brought:
    """Return the track that `routine` is set to; BadInput where it is not there."""
    name = routine.music.path
    if routine.music.kind != "track" or name is None:
        return Brought()
    path = find_track(name, home, at=at)
    tracks = TrackFiles()
    digest = tracks.digest(path)
    kept = FilesBesideTrack().kept(path)
    is_same = kept is not None and digest in kept.made_from.values()
    track = BroughtTrack(
        path=path,
        name=name,
        tracks=tracks,
        heard_beats=kept.heard.beats if kept is not None and is_same else (),
    )
    if routine.music.heard_from is not None:
        notes = _otherwise(routine.music.heard_from, name, path, digest)
    else:
        notes = (CHANGED.format(name=name),) if kept is not None and not is_same else ()
    return Brought(track=track, digest=digest, notes=notes)


def heard_otherwise(routine: Routine, home: Path) -> tuple[str, ...]:
    """Return sentences where the track of `routine`, which lies in the folder `home`, is not what
    the routine was planned to: another file, or put right otherwise since."""
    name, known = routine.music.path, routine.music.heard_from
    path = None if name is None else _found(name, _places(home))
    if known is None or name is None or path is None:
        return ()
    return _otherwise(known, name, path, TrackFiles().digest(path))


def _otherwise(known: HeardFrom, name: str, path: Path, digest: str) -> tuple[str, ...]:
    notes = [] if digest == known.track else [OTHER_TRACK.format(name=name)]
    try:
        said = said_digest(FilesBesideTrack().corrections(path))
    except BadInput as error:
        return (*notes, f"What was put right in {name} cannot be read: {error}")
    if said != known.corrections:
        notes.append(PUT_RIGHT.format(name=name))
    return tuple(notes)
