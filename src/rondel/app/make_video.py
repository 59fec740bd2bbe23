"""The follow-along video: chunks drawn and encoded side by side, then joined with the sound.

A chunk is a file in the work folder named by the digest of all that it shows. A make that was
interrupted, or a routine that was edited, uses every chunk again that still shows the same.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Generator, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from dataclasses import dataclass, field, replace
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path
from typing import TypedDict

from rondel.app.ports.raster import Rasteriser
from rondel.app.ports.video import EncodedChunk, Timed, TimedText, VideoMaker
from rondel.app.progress import Progress
from rondel.documents.chapters import chapter_spans
from rondel.drawing.frames.cutting import cut_reel
from rondel.drawing.frames.film import Film, Source, chunk_starts
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.reel import Reel
from rondel.drawing.frames.script import Script
from rondel.drawing.frames.shapes import Shape
from rondel.model.errors import OutsideFailure
from rondel.model.names import language_of
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.shots import FittedPassage

#: A chunk ends with a passage, or sooner where the passage is longer than this.
LONGEST_CHUNK_FRAMES = 20 * FRAMES_PER_SECOND
#: Nothing shorter than this stands alone: an encoder needs a few frames to set out.
SHORTEST_CHUNK_FRAMES = FRAMES_PER_SECOND
#: All processes together stay below 1 GB.
MOST_PROCESSES = 4
#: A quick look has pictures of this share of the size.
QUICK_SCALE = 0.5


class VideoReport(TypedDict):
    """What made.json says of the video. Seconds are wall clock; the two parts are summed over
    all processes and divided by their number, so that they compare with the whole."""

    frames: int
    film_frames: int
    seconds: float
    painting_seconds: float
    encoding_seconds: float
    joining_seconds: float
    bytes: int
    chunks: int
    chunks_reused: int
    processes: int
    quick: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureWishes:
    """What the picture is to be: its shape, and the takes that stand in it.

    `fitted`: passages with their shots; `sources`: where each take of them lies. `fills`: takes
    are cut to fill the frame, instead of standing in it whole.
    """

    shape: Shape = Shape.WIDE
    fitted: tuple[FittedPassage, ...] = ()
    sources: Mapping[str, Source] = field(default_factory=dict)
    fills: bool = False

    def told(self) -> dict[str, object]:
        """Return all that decides what is seen, as plain JSON data; nothing where it is usual."""
        usual = self.shape is Shape.WIDE and not any(one.shots for one in self.fitted)
        if usual:
            return {}
        shots = [
            [source.digest, source.cuts, shot.map.at, shot.map.shows, shot.is_mirrored]
            for one in self.fitted
            for shot in one.shots
            for source in (self.sources[shot.take],)
        ]
        return {"shape": str(self.shape), "fills": self.fills, "shots": shots}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bench:
    """Where and with what chunks are made."""

    work: Path
    rasterise: Rasteriser
    encoder: VideoMaker
    quick: bool
    processes: int
    shape: Shape

    @property
    def scale(self) -> float:
        return QUICK_SCALE if self.quick else 1.0

    def chunk_name(self, digest: str) -> str:
        return f"{'quick' if self.quick else 'whole'}-{self.shape}-{digest}.mp4"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tally:
    """What the chunks of one make came to."""

    paths: tuple[Path, ...]
    reused: int
    painting_seconds: float
    encoding_seconds: float


def make_video(
    routine: Routine,
    craft: Craft,
    speech_captions: Sequence[Timed],
    sound_path: Path | None,
    out: Path,
    work: Path,
    rasterise: Rasteriser,
    encoder: VideoMaker,
    progress: Progress,
    quick: bool = False,
    processes: int | None = None,
    picture: PictureWishes | None = None,
) -> VideoReport:
    """Make `out` (session.mp4) and say what it took.

    `picture` names its shape and the takes that stand in it; without, it is wide and drawn.

    `work` keeps the chunks. `processes` of 0 works in this process; None takes one per processor.
    `quick` makes pictures of half the size. An interruption leaves the finished chunks and no
    half-written `out`. Raises OutsideFailure.
    """
    began = time.perf_counter()
    work.mkdir(parents=True, exist_ok=True)
    _remove(work.glob(".part-*"))
    picture = picture or PictureWishes()
    script = Script(routine, craft)
    film = Film(script, picture.fitted, picture.sources, shape=picture.shape, fills=picture.fills)
    workers = _processors() if processes is None else processes
    progress.begin("Drawing the video", script.frames / FRAMES_PER_SECOND)
    bench = _Bench(
        work=work,
        rasterise=rasterise,
        encoder=encoder,
        quick=quick,
        processes=workers,
        shape=picture.shape,
    )
    tally = _make_chunks(script, film, bench, progress)
    progress.end()
    joining = time.perf_counter()
    words = speech_captions, video_chapters(routine, craft)
    tongue = language_of(routine)
    encoder.join(tally.paths, sound_path, *words, out, title=routine.title, language=tongue)
    _remove(set(work.glob(bench.chunk_name("*"))) - set(tally.paths))
    ended = time.perf_counter()
    return VideoReport(
        frames=script.frames,
        film_frames=film.frames,
        seconds=round(ended - began, 2),
        painting_seconds=round(tally.painting_seconds / max(workers, 1), 2),
        encoding_seconds=round(tally.encoding_seconds / max(workers, 1), 2),
        joining_seconds=round(ended - joining, 2),
        bytes=out.stat().st_size,
        chunks=len(tally.paths),
        chunks_reused=tally.reused,
        processes=max(workers, 1),
        quick=quick,
    )


def _remove(paths: Iterable[Path]) -> None:
    for path in paths:
        path.unlink(missing_ok=True)


def _processors() -> int:
    """Return how many processes work side by side: each needs about 200 MB."""
    if hasattr(os, "sched_getaffinity"):
        return min(len(os.sched_getaffinity(0)), MOST_PROCESSES)
    return min(os.cpu_count() or 1, MOST_PROCESSES)


def processes_for(cores: int) -> int:
    """Return how many processes to make a video with where `cores` are free: 0, this one alone,
    where it is one."""
    return 0 if cores <= 1 else min(cores, MOST_PROCESSES)


def video_chapters(routine: Routine, craft: Craft) -> tuple[TimedText, ...]:
    """Return the chapters of the session as the video carries them."""
    return tuple(
        TimedText(start_seconds=c.start_seconds, end_seconds=c.end_seconds, text=c.title)
        for c in chapter_spans(routine, craft)
    )


def chunk_bounds(starts: Sequence[int], frames: int) -> tuple[tuple[int, int], ...]:
    """Return (first, past) of every chunk: cut where a still begins, and evenly in between.

    `starts` are the first frames of the stills, in order, the first 0. The cut is made in time
    of the still's own, never of the whole, so that an edit moves no other cut.
    """
    marks = [0]
    for start in starts:
        if start - marks[-1] >= SHORTEST_CHUNK_FRAMES and frames - start >= SHORTEST_CHUNK_FRAMES:
            marks.append(start)
    bounds = []
    for first, past in pairwise([*marks, frames]):
        parts = -(-(past - first) // LONGEST_CHUNK_FRAMES)
        edges = [first + (past - first) * k // parts for k in range(parts + 1)]
        bounds += list(pairwise(edges))
    return tuple(bounds)


def _make_chunks(script: Script, film: Film, bench: _Bench, progress: Progress) -> _Tally:
    """Make the chunks that are not there yet and return all of them in order."""
    paths: list[Path] = []
    reused = 0
    painting = encoding = 0.0

    def missing() -> Iterator[tuple[Reel, Path]]:
        nonlocal reused
        stills = [s.first_frame for s in script.shots]
        starts = chunk_starts(stills, film, SHORTEST_CHUNK_FRAMES)
        for first, past in chunk_bounds(starts, script.frames):
            reel = _reel(script, film, first, past)
            path = bench.work / bench.chunk_name(reel.digest()[:40])
            is_there = path.exists() or path in paths
            paths.append(path)
            if is_there:
                reused += 1
                progress.advance(reel.frames / FRAMES_PER_SECOND)
            else:
                yield reel, path

    with closing(_encoded(missing(), bench)) as chunks:
        for chunk in chunks:
            painting += chunk.painting_seconds
            encoding += chunk.encoding_seconds
            progress.advance(chunk.frames / FRAMES_PER_SECOND)
    return _Tally(
        paths=tuple(paths), reused=reused, painting_seconds=painting, encoding_seconds=encoding
    )


def _reel(script: Script, film: Film, first: int, past: int) -> Reel:
    if film.covers(first):
        return film.reel(first, past)
    return replace(cut_reel(script, first, past), is_of_film=film.frames > 0, shape=film.shape)


def _encoded(
    jobs: Iterator[tuple[Reel, Path]], bench: _Bench
) -> Generator[EncodedChunk, None, None]:
    """Encode the jobs side by side; few wait at a time, so memory does not grow with the length."""
    pool = _pool_for(bench)
    if pool is None:
        for reel, path in jobs:
            yield bench.encoder.encode(reel, bench.rasterise, path, scale=bench.scale)
        return
    waiting: set[Future[EncodedChunk]] = set()
    try:
        for reel, path in jobs:
            waiting.add(pool.submit(_encode, reel, path))
            if len(waiting) > bench.processes + 1:
                done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
                yield from (future.result() for future in done)
        while waiting:
            done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            yield from (future.result() for future in done)
    except BrokenProcessPool as error:
        raise OutsideFailure(
            "the computer stopped a part of the work, perhaps for want of memory; "
            "close other programs and make it again: what is finished is kept"
        ) from error
    finally:
        # After an interruption the chunks under way are finished and kept; the rest is dropped.
        pool.shutdown(wait=True, cancel_futures=True)


def _pool_for(bench: _Bench) -> ProcessPoolExecutor | None:
    """Return the processes to share the work; None to do it all in this one.

    Some machines lend no shared memory (a locked /dev/shm, say); there it only takes longer.
    """
    if bench.processes == 0:
        return None
    try:
        return ProcessPoolExecutor(
            max_workers=bench.processes,
            mp_context=get_context("spawn"),
            initializer=_set_up,
            initargs=(bench,),
        )
    except (OSError, ImportError):
        return None


#: What a process of the pool works with; it keeps its drawings from one chunk to the next.
_benches: list[_Bench] = []


def _set_up(bench: _Bench) -> None:
    """Begin a process. Only the parent answers Ctrl-C, so that a chunk under way is finished."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _benches[:] = [bench]


def _encode(reel: Reel, path: Path) -> EncodedChunk:
    bench = _benches[0]
    return bench.encoder.encode(reel, bench.rasterise, path, scale=bench.scale)
