"""The takes of a teacher: what moves in their pictures, read by children, part by part.

Parts that were read are kept in a hidden folder until the take is done, so that watching a long
take may be stopped and taken up again.
"""

from __future__ import annotations

import base64
import hashlib
import io
import math
import os
import shutil
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path

import numpy as np

from rondel.adapters.atomic import write_bytes
from rondel.adapters.quiet_children import QuietContext
from rondel.adapters.take_opening import furthest
from rondel.adapters.take_reading import (
    NOT_FILM,
    Part,
    Probe,
    limit_child,
    probe,
    read_part,
    read_stills,
)
from rondel.app.ports.takes import Watched
from rondel.app.progress import Progress
from rondel.drawing.seen_picture import Still
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.time import as_minutes
from rondel.watching.moving import LAGS, Moved, Moving, Outlines

PART_SECONDS = 30.0
#: Longer takes are refused: nobody cuts from them, and what is kept of them must fit in memory.
MOST_SECONDS = 3 * 3600.0
#: A file may end so much before what it told.
_SPARE_SECONDS = 1.0
_LEAST_PICTURES = 25
#: Children that read at once.
USUAL_JOBS = min(2, os.cpu_count() or 1)
#: The longest name of a file, in bytes (ext4, APFS, NTFS), and what the longest file that is kept
#: beside a take bears after the take's own.
_LONGEST_NAME, _LONGEST_ENDING = 255, ".corrections.toml"
TOO_SHORT = "this is shorter than a second; a take lasts longer"


def refuse_odd_name(take: Path) -> None:
    """Raise BadInput where nothing can be kept beside a take, for what its file is called."""
    try:
        name = take.name.encode("utf-8")
    except UnicodeEncodeError as error:
        says = "the name of the file holds a letter that this machine cannot read; give it another"
        raise BadInput(says, at=readable(str(take))) from error
    if len(name) + len(_LONGEST_ENDING) > _LONGEST_NAME:
        says = "the name of the file is too long to keep anything beside it; give it a shorter one"
        raise BadInput(says, at=str(take))


def readable(name: str) -> str:
    """Return the name of a file, with a question mark for what is no letter on this machine."""
    return name.encode("utf-8", "replace").decode("utf-8")


class TakeFiles:
    """The port `Takes`. `scratch` is where parts are kept until all are read; None: nowhere."""

    def __init__(self, scratch: Path | None = None, *, jobs: int | None = None) -> None:
        self._scratch = scratch
        self._jobs = jobs or USUAL_JOBS

    def watched(self, path: Path, progress: Progress) -> Watched:
        if path.is_dir():
            says = "this is a folder, and a take is expected: name one of the films in it"
            raise BadInput(says, at=str(path))
        if not path.is_file():
            raise BadInput("there is no such file; check the name and the folder", at=str(path))
        if not path.stat().st_size:
            raise BadInput("the file is empty; copy it again", at=str(path))
        before = _state(path)
        with _children(path, self._jobs) as pool:
            told = pool.submit(probe, path).result()
            if told.fault:
                raise BadInput(told.fault, at=str(path))
            if told.seconds is not None and told.seconds > MOST_SECONDS:
                long = as_minutes(told.seconds)
                says = f"the take lasts {long}; Rondel watches up to three hours: cut it first"
                raise BadInput(says, at=str(path))
            parts = self._parts(path, told, pool, progress)
            if _ends_early(told, parts) and not told.is_films:
                reached = pool.submit(furthest, path).result()
                told, parts = _with_other_end(told, parts, reached)
        if _state(path) != before:
            says = "the file changed while it was watched; wait until it is copied, and try again"
            raise BadInput(says, at=str(path))
        return _together(path, told, parts)

    def digest(self, path: Path) -> str:
        """Return the SHA-256 of the file."""
        total = hashlib.sha256()
        with path.open("rb") as file:
            while block := file.read(2**20):
                total.update(block)
        return total.hexdigest()

    def _parts(
        self, path: Path, told: Probe, pool: ProcessPoolExecutor, progress: Progress
    ) -> list[Part]:
        spans = _spans(told.seconds)
        progress.begin(f"watching {path.name}", told.seconds or 1.0)
        folder = self._folder(path)
        found: dict[int, Part] = {}
        waiting: dict[Future[Part], int] = {}
        for number, (start, end) in enumerate(spans):
            kept = _kept(folder, number)
            if kept is not None:
                found[number] = kept
                progress.advance((end or start) - start)
            else:
                waiting[pool.submit(read_part, path, start, end)] = number
        try:
            for done in as_completed(waiting):
                number = waiting[done]
                found[number] = done.result()
                _keep(folder, number, found[number])
                start, end = spans[number]
                progress.advance((end or start) - start)
        except BaseException:
            for future in waiting:
                future.cancel()
            raise
        progress.end()
        if folder is not None:
            shutil.rmtree(folder, ignore_errors=True)
        return [found[number] for number in range(len(spans))]

    def _folder(self, path: Path) -> Path | None:
        """Return where parts of just this file are kept."""
        if self._scratch is None:
            return None
        size, changed = _state(path)
        name = f"{path.name} {size} {changed} {LAGS} {PART_SECONDS}"
        return self._scratch / hashlib.sha256(name.encode()).hexdigest()[:16]


def _state(path: Path) -> tuple[int, int]:
    """Return what another file under this name would have otherwise: size and time of change."""
    state = path.stat()
    return state.st_size, state.st_mtime_ns


@contextmanager
def _children(path: Path, jobs: int) -> Iterator[ProcessPoolExecutor]:
    pool = ProcessPoolExecutor(jobs, mp_context=QuietContext(), initializer=limit_child)
    try:
        yield pool
    except BrokenProcessPool as error:
        raise BadInput(NOT_FILM, at=str(path)) from error
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _spans(seconds: float | None) -> list[tuple[float, float | None]]:
    """Return the parts that a take is read in; the last one goes to its very end."""
    count = max(1, math.ceil((seconds or 0.0) / PART_SECONDS - 0.2))
    edges = [PART_SECONDS * n for n in range(count)]
    return [(start, end) for start, end in zip(edges, [*edges[1:], None], strict=True)]


def _ends_early(told: Probe, parts: list[Part]) -> bool:
    """True where pictures end before what the file told."""
    ends = max((float(part.times[-1]) for part in parts if len(part.times)), default=0.0)
    return told.seconds is not None and ends < told.seconds - _SPARE_SECONDS


def _with_other_end(told: Probe, parts: list[Part], reached: float) -> tuple[Probe, list[Part]]:
    """Return both without the time after the pictures, where the file is whole: where something
    in it, as its sound, has `reached` the second that it told."""
    if told.seconds is None or reached < told.seconds - _SPARE_SECONDS:
        return told, parts
    filled = [n for n, part in enumerate(parts) if part.fault or len(part.times)]
    return replace(told, seconds=None), parts[: max(filled, default=0) + 1]


def _together(path: Path, told: Probe, parts: list[Part]) -> Watched:
    """Return the parts as one; BadInput where pictures are missing."""
    times = np.concatenate([part.times for part in parts])
    if len(times) < _LEAST_PICTURES:
        raise BadInput(TOO_SHORT if len(times) else NOT_FILM, at=str(path))
    broken = next((n for n, part in enumerate(parts) if part.fault or not len(part.times)), None)
    if told.seconds is not None and _ends_early(told, parts):
        told_says, ends_says = as_minutes(told.seconds), as_minutes(float(times[-1]))
        says = f"the file is cut off: it should last {told_says}, and its pictures end at"
        raise BadInput(f"{says} {ends_says}; copy it again", at=str(path))
    if broken is not None:
        at = as_minutes(PART_SECONDS * broken)
        raise BadInput(f"the file is damaged from {at} on; export or copy it again", at=str(path))
    lags = tuple(_moving(n, parts) for n in range(len(LAGS)))
    outlines = Outlines(
        at=np.concatenate([part.outlines_at for part in parts]),
        cells=np.concatenate([part.outlines for part in parts]),
    )
    return Watched(
        moved=Moved(frames=times, lags=lags, outlines=outlines),
        looks=np.concatenate([part.looks for part in parts]),
        cuts=tuple(cut for part in parts for cut in part.cuts),
        fps=told.fps,
        width=told.width,
        height=told.height,
    )


def _moving(n: int, parts: list[Part]) -> Moving:
    """Return the `n`th lag of all parts; empty where no two pictures are so far apart, as where a
    camera is switched again and again."""
    shape = next(part.outlines.shape[1:] for part in parts if len(part.outlines))
    cells = [np.zeros((0, *shape, 2), dtype=np.float32)]
    camera = [np.zeros((0, 4), dtype=np.float32)]
    found = [part for part in parts if len(part.at[n])]
    return Moving(
        lag=LAGS[n],
        at=np.concatenate([part.at[n] for part in parts]),
        cells=np.concatenate([*cells, *(part.cells[n] for part in found)]),
        camera=np.concatenate([*camera, *(part.camera[n] for part in found)]),
    )


def _keep(folder: Path | None, number: int, part: Part) -> None:
    if folder is None or part.fault:
        return
    held = io.BytesIO()
    arrays: dict[str, np.ndarray] = {"times": part.times, "looks": part.looks}
    arrays |= {"outlines_at": part.outlines_at, "outlines": part.outlines}
    arrays["cuts"] = np.array(part.cuts)
    for n in range(len(LAGS)):
        arrays |= {f"at{n}": part.at[n], f"cells{n}": part.cells[n], f"camera{n}": part.camera[n]}
    np.savez(held, allow_pickle=False, **arrays)
    with suppress(OutsideFailure):  # no room: should it be stopped, it is watched again
        write_bytes(folder / f"{number}.npz", held.getvalue())


def _kept(folder: Path | None, number: int) -> Part | None:
    path = folder / f"{number}.npz" if folder is not None else None
    if path is None or not path.is_file():
        return None
    try:
        with np.load(path, allow_pickle=False) as held:
            lags = range(len(LAGS))
            return Part(
                times=held["times"],
                at=tuple(held[f"at{n}"] for n in lags),
                cells=tuple(held[f"cells{n}"] for n in lags),
                camera=tuple(held[f"camera{n}"] for n in lags),
                looks=held["looks"],
                outlines_at=held["outlines_at"],
                outlines=held["outlines"],
                cuts=tuple(float(cut) for cut in held["cuts"]),
            )
    except (OSError, ValueError, KeyError):
        return None


def stills_of(path: Path, seconds: tuple[float, ...]) -> tuple[Still, ...]:
    """Return a small picture of a take at each of `seconds`, as far as it has them."""
    with _children(path, 1) as pool:
        found = pool.submit(read_stills, path, seconds).result()
    return tuple(
        Still(
            second=second,
            address=f"data:image/jpeg;base64,{base64.b64encode(data).decode()}",
            width=width,
            height=height,
        )
        for second, data, width, height in found
    )
