"""Where the files of brought tracks meet the use case that hears them."""

from __future__ import annotations

from pathlib import Path

from rondel.adapters.atomic import write_bytes, write_text
from rondel.adapters.beat_weights import builtin_network
from rondel.adapters.heard_files import FilesBesideTrack, listening_digest
from rondel.adapters.loudness import R128Meter
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.studio_files import read_brief, studio_of
from rondel.adapters.track_files import TrackFiles
from rondel.adapters.track_place import find_track
from rondel.app.hear_track import NOTHING, Asked, HeardTrack, HearTools, hear_track
from rondel.app.progress import Progress
from rondel.drawing.heard_picture import draw_heard
from rondel.drawing.page_svg import size_of
from rondel.model.brief import Brief
from rondel.model.track import Heard

PICTURE_PIXELS = 1600


def hear_from_file(
    track: Path, *, progress: Progress, asked: Asked = NOTHING, out: Path | None = None
) -> HeardTrack:
    """Hear the track in a file, with its corrections and what is `asked` to be put right now.

    What was heard is kept in the folder `out`, or beside a track that lies in a studio.
    """
    tools = HearTools(
        tracks=TrackFiles(),
        beside=FilesBesideTrack(out, keeps=out is not None or studio_of(track) is not None),
        meter=R128Meter,
        network=builtin_network,
        way=listening_digest(),
    )
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


def draw_heard_to(path: Path, heard: Heard, *, title: str) -> None:
    """Draw what was heard into `path`, an .svg, or a .png of PICTURE_PIXELS across."""
    svg = draw_heard(heard, title)
    if path.suffix.lower() != ".png":
        write_text(path, svg)
        return
    width, height = size_of(svg)
    high = round(PICTURE_PIXELS * height / width)
    write_bytes(path, ResvgRasteriser().png(svg, PICTURE_PIXELS, high))
