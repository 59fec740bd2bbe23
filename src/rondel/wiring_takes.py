"""Where the files of takes meet the use case that watches them."""

from __future__ import annotations

from pathlib import Path

from rondel.adapters.atomic import write_bytes, write_text
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.seen_files import FilesBesideTake, watching_digest
from rondel.adapters.studio_files import studio_of
from rondel.adapters.take_files import TakeFiles, stills_of
from rondel.app.progress import Progress
from rondel.app.watch_take import AskedOfTake, SeenTake, WatchTools, watch_take
from rondel.drawing.page_svg import size_of
from rondel.drawing.seen_picture import draw_seen, still_seconds
from rondel.model.take import Seen

SCRATCH = ".watching"
PICTURE_PIXELS = 1600


def watch_from_file(
    take: Path, *, progress: Progress, asked: AskedOfTake | None = None, out: Path | None = None
) -> SeenTake:
    """Watch the take in a file, with its corrections and what is `asked` to be put right now.

    What was seen is kept in the folder `out`, or beside a take that lies in a studio; so are,
    hidden and for as long as it takes, the parts already watched.
    """
    keeps = out is not None or studio_of(take) is not None
    tools = WatchTools(
        takes=TakeFiles((out or take.parent) / SCRATCH if keeps else None),
        beside=FilesBesideTake(out, keeps=keeps),
        way=watching_digest(),
    )
    return watch_take(take, tools, progress=progress, asked=asked)


def draw_seen_to(path: Path, seen: Seen, take: Path) -> None:
    """Draw what was seen into `path`, an .svg, or a .png of PICTURE_PIXELS across."""
    stills = stills_of(take, still_seconds(seen.seconds))
    svg = draw_seen(seen, take.stem, stills)
    if path.suffix.lower() != ".png":
        write_text(path, svg)
        return
    width, height = size_of(svg)
    high = round(PICTURE_PIXELS * height / width)
    write_bytes(path, ResvgRasteriser().png(svg, PICTURE_PIXELS, high))
