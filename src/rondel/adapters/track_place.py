"""Where a brought track lies, and what is known of it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rondel.adapters.heard_files import FilesBesideTrack
from rondel.adapters.studio_files import studio_of
from rondel.adapters.track_files import TrackFiles
from rondel.app.play_track import BroughtTrack
from rondel.model.errors import BadInput
from rondel.model.routine import Routine


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
    home, studio = home.resolve(), studio_of(home)
    above = [p for p in home.parents if p.is_relative_to(studio)] if studio else home.parents[:1]
    places = [home, *above]
    for place in places:
        path = place / name
        if path.is_file():
            return path
    looked = "" if Path(name).is_absolute() else f" in {' or in '.join(str(p) for p in places)}"
    raise BadInput(
        f'the track "{name}" is not there{looked}; bring it back, or name another', at=at
    )


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
    changed = (
        f"{name} was changed since it was listened to. If its beats lie elsewhere now, plan the "
        "routine again."
    )
    track = BroughtTrack(
        path=path,
        name=name,
        tracks=tracks,
        heard_beats=kept.heard.beats if kept is not None and is_same else (),
    )
    notes = (changed,) if kept is not None and not is_same else ()
    return Brought(track=track, digest=digest, notes=notes)
