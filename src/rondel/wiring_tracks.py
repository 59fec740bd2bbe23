"""Where the files of brought tracks meet the use case that hears them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from rondel.adapters.alone import alone
from rondel.adapters.atomic import require_room, write_bytes, write_text
from rondel.adapters.beat_weights import builtin_network
from rondel.adapters.heard_files import FilesBesideTrack, listening_digest
from rondel.adapters.listened_files import ListenedFiles
from rondel.adapters.loudness import R128Meter
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.session_folder import home_of
from rondel.adapters.studio_files import read_brief, read_routine, studio_of
from rondel.adapters.track_files import TrackFiles
from rondel.adapters.track_place import find_track, heard_otherwise
from rondel.app.hear_track import NOTHING, Asked, HeardTrack, HearTools, hear_track
from rondel.app.ports.tracks import Kept
from rondel.app.progress import Progress
from rondel.drawing.heard_picture import draw_heard
from rondel.drawing.page_svg import size_of
from rondel.model.brief import Brief
from rondel.model.errors import BadInput
from rondel.model.routine import Routine
from rondel.model.track import Heard
from rondel.music.laying import course_told

PICTURE_PIXELS = 1600
#: The hidden folder of a studio with what was listened to; safe to delete.
LISTENED = ".listened"

NOT_TOLD = (
    "What the track is in every bar is told neither by this routine nor by a file beside the "
    "track, so the rules of a track were left out. `rondel listen` hears it."
)

CHANGED = (
    "{name} was changed since it was listened to, so the rules of a track were left out. "
    "`rondel listen` hears it anew."
)


def hear_from_file(
    track: Path, *, progress: Progress, asked: Asked = NOTHING, out: Path | None = None
) -> HeardTrack:
    """Hear the track in a file, with its corrections and what is `asked` to be put right now.

    What was heard is kept in the folder `out`, or beside a track that lies in a studio; what was
    listened to, hidden in the studio, or else in `out`. Sessions made side by side share tracks:
    one hears it, the others wait for what it heard.
    """
    if out is not None:
        require_room(out)  # said before anything is listened to or put right
    studio = studio_of(track)
    home = studio or out
    keeps = home is not None
    tools = HearTools(
        tracks=TrackFiles(),
        beside=FilesBesideTrack(out, keeps=keeps),
        listened=ListenedFiles(home / LISTENED if home is not None else None),
        meter=R128Meter,
        network=builtin_network,
        way=listening_digest(),
        must_keep=out is not None,
    )
    if not keeps or not track.is_file():
        return hear_track(track, tools, progress=progress, asked=asked)

    def say() -> None:
        progress.begin(f"waiting for {track.name}, which is being heard", 1)
        progress.end()

    with alone((out or track.parent) / f".{track.name}.lock", say):
        return hear_track(track, tools, progress=progress, asked=asked)


def read_brief_and_track(path: Path, *, progress: Progress) -> tuple[Brief, Heard | None]:
    """Return the brief in a file and what is heard in its track, if it names one.

    The track lies beside the brief, or in its studio. BadInput where it cannot be found or read.
    """
    brief = read_brief(path)
    if brief.track is None:
        return brief, None
    track = find_track(brief.track, path.resolve().parent, at=f"{path.name}: track")
    return brief, hear_from_file(track, progress=progress).heard


def read_routine_and_notes(path: Path) -> tuple[Routine, tuple[str, ...]]:
    """Return the routine in a file, and what is to be said of its track, in sentences: that it is
    not as it was when the routine was planned.

    Where it does not tell what its track is in every bar, that is worked out from what was heard in
    the track before, if anything was kept.
    """
    routine = read_routine(path)
    music = routine.music
    if music.kind != "track":
        return routine, ()
    try:
        find_track(music.path or "", home_of(path), at="music")
    except BadInput as error:
        gone = f"{str(error)[:1].upper()}{str(error)[1:]}."
        is_told = music.course is not None or not music.beat_seconds
        return routine, (gone,) if is_told else (gone, NOT_TOLD)
    notes = heard_otherwise(routine, home_of(path))
    if music.course is not None or not music.beat_seconds:
        return routine, notes
    kept, untold = _kept_of(music.path, home_of(path))
    if kept is None:
        return routine, (*notes, untold)
    course = course_told(kept.heard, routine)
    return replace(routine, music=replace(music, course=course)), notes


def _kept_of(name: str | None, home: Path) -> tuple[Kept | None, str]:
    """Return what was heard before in the track called `name` by a routine in the folder `home`;
    None, with a sentence, where nothing is known of it as it is now."""
    try:
        track = find_track(name or "", home, at="music")
    except BadInput:
        return None, NOT_TOLD
    kept = FilesBesideTrack().kept(track)
    if kept is None:
        return None, NOT_TOLD
    digest = TrackFiles().digest(track)
    if kept.made_from.get("track", digest) != digest:
        return None, CHANGED.format(name=name)
    return kept, ""


def draw_heard_to(path: Path, heard: Heard, *, title: str) -> None:
    """Draw what was heard into `path`, an .svg, or a .png of PICTURE_PIXELS across."""
    svg = draw_heard(heard, title)
    if path.suffix.lower() != ".png":
        write_text(path, svg)
        return
    width, height = size_of(svg)
    high = round(PICTURE_PIXELS * height / width)
    write_bytes(path, ResvgRasteriser().png(svg, PICTURE_PIXELS, high))
