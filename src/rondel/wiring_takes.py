"""Where the files of takes meet the use case that watches them."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from rondel.adapters.alone import alone
from rondel.adapters.atomic import require_room, write_bytes, write_text
from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.seen_files import FilesBesideTake, watching_digest
from rondel.adapters.studio_files import craft_for, studio_of
from rondel.adapters.take_files import (
    USUAL_JOBS,
    TakeFiles,
    readable,
    refuse_odd_name,
    stills_of,
)
from rondel.app.fit_takes import Fitted, fit_takes, unused_sentences
from rondel.app.progress import Progress
from rondel.app.watch_take import AskedOfTake, SeenTake, WatchTools, watch_take
from rondel.drawing.frames.film import Source
from rondel.drawing.page_svg import size_of
from rondel.drawing.seen_picture import draw_seen, still_seconds
from rondel.fitting.choosing import Limits
from rondel.fitting.named import NamedTake
from rondel.model.errors import BadInput
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.take import Seen

SCRATCH = ".watching"
PICTURE_PIXELS = 1600


def watch_from_file(
    take: Path,
    *,
    progress: Progress,
    asked: AskedOfTake | None = None,
    out: Path | None = None,
    cores: int | None = None,
) -> SeenTake:
    """Watch the take in a file, with its corrections and what is `asked` to be put right now.

    What was seen is kept in the folder `out`, or beside a take that lies in a studio; so are,
    hidden and for as long as it takes, the parts already watched. Sessions made side by side share
    takes: one watches, the others wait for what it saw. `cores`: at most so many are used.
    """
    refuse_odd_name(take)
    if out is not None:
        require_room(out)  # said before anything is watched or put right
    keeps = out is not None or studio_of(take) is not None
    scratch = (out or take.parent) / SCRATCH if keeps else None
    tools = WatchTools(
        takes=TakeFiles(scratch, jobs=min(cores or USUAL_JOBS, USUAL_JOBS)),
        beside=FilesBesideTake(out, keeps=keeps),
        way=watching_digest(),
    )
    with _one_at_a_time(take, scratch, progress):
        return watch_take(take, tools, progress=progress, asked=asked)


@contextmanager
def _one_at_a_time(take: Path, scratch: Path | None, progress: Progress) -> Iterator[None]:
    if scratch is None or not take.is_file():
        yield
        return

    def say() -> None:
        progress.begin(f"waiting for {take.name}, which is being watched", 1)
        progress.end()

    try:
        with alone(scratch / f"{take.name}.lock", say):
            yield
    finally:
        with suppress(OSError):
            scratch.rmdir()  # where nothing else is in it


@dataclass(frozen=True, slots=True, kw_only=True)
class Filmed:
    """What the takes of a routine show of it, and where they lie; `notes` for the teacher."""

    fitted: Fitted = field(default_factory=lambda: Fitted(passages=()))
    sources: Mapping[str, Source] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    @property
    def inputs(self) -> dict[str, str]:
        """What made.json says that the session was made from."""
        return {f"takes/{name}": source.digest for name, source in self.sources.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchedTakes:
    """Takes that may be shown, and where they lie; `notes`: which were left out, and why."""

    named: tuple[NamedTake, ...]
    sources: Mapping[str, Source]
    notes: tuple[str, ...]


def watched_takes(
    takes: Mapping[str, Path], *, progress: Progress, cores: Callable[[], int] | None = None
) -> WatchedTakes:
    """Watch `takes` (by name). Those that no technique is named for are left out, and so are those
    that cannot be read; notes say which and what to do."""
    named: list[NamedTake] = []
    sources: dict[str, Source] = {}
    notes: list[str] = []
    for name, path in takes.items():
        try:
            watched = watch_from_file(path, progress=progress, cores=cores() if cores else None)
        except BadInput as error:
            notes.append(f"The take {readable(name)} is left out: {error.says}.")
            continue
        except OSError as error:
            shown = readable(name)
            notes.append(f"The take {shown} is left out: it cannot be read ({error.strerror}).")
            continue
        seen, technique = watched.seen, watched.corrections.technique
        if technique is None and not any(one.technique for one in seen.stretches):
            notes.append(
                f"The take {name} is not shown, for nobody has said what it shows: "
                f"rondel watch {shlex.quote(str(path))} --technique ID"
            )
            continue
        named.append(NamedTake(name=name, seen=seen, technique=technique))
        sources[name] = Source(
            path=str(path.resolve()),
            digest=watched.digest,
            seconds=seen.seconds,
            cuts=seen.cuts,
        )
    return WatchedTakes(named=tuple(named), sources=sources, notes=tuple(notes))


def filmed(
    routine: Routine,
    craft: Craft,
    takes: Mapping[str, Path],
    limits: Limits,
    *,
    progress: Progress,
    cores: Callable[[], int] | None = None,
) -> Filmed:
    """Return `routine` with the `takes` (by name) that show it; notes tell of all that are not
    shown, and why."""
    watched = watched_takes(takes, progress=progress, cores=cores)
    if not watched.named:
        return Filmed(notes=watched.notes)
    fitted = fit_takes(routine, watched.named, progress=progress, limits=limits)
    unused = unused_sentences(fitted, watched.named, routine, craft)
    return Filmed(fitted=fitted, sources=watched.sources, notes=(*watched.notes, *unused))


def draw_seen_to(path: Path, seen: Seen, take: Path) -> None:
    """Draw what was seen into `path`, an .svg, or a .png of PICTURE_PIXELS across."""
    stills = stills_of(take, still_seconds(seen.seconds))
    names = {one.id: one.plain for one in craft_for(take).techniques}
    svg = draw_seen(seen, take.stem, stills, names)
    if path.suffix.lower() != ".png":
        write_text(path, svg)
        return
    width, height = size_of(svg)
    high = round(PICTURE_PIXELS * height / width)
    write_bytes(path, ResvgRasteriser().png(svg, PICTURE_PIXELS, high))
