"""Parts of a session are made in order, and only where they are stale.

A part is fresh when the digest of all it was made from is the one on record, and every file it
made is still there with the same content. Records are written after each part, so that work that
was interrupted goes on where it stopped.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from rondel.app.ports.session import SessionFolder
from rondel.app.progress import Progress


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One part of a session. `inputs` must be plain JSON data, `make` returns measurements."""

    name: str
    inputs: Callable[[], object]
    files: tuple[str, ...]
    make: Callable[[Progress], Mapping[str, object]]


@dataclass(frozen=True, slots=True, kw_only=True)
class StageResult:
    """What became of one part: made in `seconds`, or fresh already."""

    name: str
    was_fresh: bool
    seconds: float
    measured: Mapping[str, object]


def digest_of(inputs: object) -> str:
    """Return the SHA-256 of plain JSON data, the same for the same data."""
    text = json.dumps(inputs, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def run_stages(
    stages: Sequence[Stage], folder: SessionFolder, *, program: str, progress: Progress
) -> tuple[StageResult, ...]:
    """Make every stale stage in order and return what became of each.

    `program` stands for the version of the program: a session made by another one is stale.
    """
    return tuple(_run(stage, folder, program, progress) for stage in stages)


def take_away_stale(
    stages: Sequence[Stage], folder: SessionFolder, *, program: str
) -> tuple[str, ...]:
    """Take away what earlier makes left of `stages` where it is stale; return the files' names."""
    gone: list[str] = []
    for stage in stages:
        records = _stage_records(folder)
        record = records.get(stage.name)
        if not isinstance(record, Mapping):
            continue
        key = digest_of([program, stage.name, stage.inputs()])
        if _is_fresh(record, key, stage, folder):
            continue
        _take_away(record, (), folder)
        del records[stage.name]
        folder.write_made({**folder.read_made(), "stages": records})
        gone += stage.files
    return tuple(gone)


def _run(stage: Stage, folder: SessionFolder, program: str, progress: Progress) -> StageResult:
    key = digest_of([program, stage.name, stage.inputs()])
    record = _stage_records(folder).get(stage.name)
    if isinstance(record, Mapping) and _is_fresh(record, key, stage, folder):
        measured = record.get("measured")
        return StageResult(
            name=stage.name,
            was_fresh=True,
            seconds=0.0,
            measured=measured if isinstance(measured, Mapping) else {},
        )
    began = time.monotonic()
    measured = stage.make(progress)
    seconds = time.monotonic() - began
    _record(stage, folder, key, seconds, measured)
    return StageResult(name=stage.name, was_fresh=False, seconds=seconds, measured=measured)


def _stage_records(folder: SessionFolder) -> dict[str, object]:
    stages = folder.read_made().get("stages")
    return dict(stages) if isinstance(stages, Mapping) else {}


def _is_fresh(record: Mapping[str, object], key: str, stage: Stage, folder: SessionFolder) -> bool:
    files = record.get("files")
    if record.get("inputs") != key or not isinstance(files, Mapping):
        return False
    # Names on record count too: stems differ from routine to routine.
    names = set(stage.files) | {str(n) for n in files}
    return all(files.get(n) is not None and folder.digest(n) == files.get(n) for n in names)


def _record(
    stage: Stage,
    folder: SessionFolder,
    key: str,
    seconds: float,
    measured: Mapping[str, object],
) -> None:
    made = dict(folder.read_made())
    records = _stage_records(folder)
    before = records.get(stage.name)
    also = measured.get("files", ())
    names = (*stage.files, *(also if isinstance(also, list | tuple) else ()))
    _take_away(before, names, folder)
    records[stage.name] = {
        "inputs": key,
        "files": {str(n): folder.digest(str(n)) for n in names},
        "seconds": round(seconds, 2),
        "measured": {k: v for k, v in measured.items() if k != "files"},
    }
    made["stages"] = records
    folder.write_made(made)


def _take_away(before: object, names: Sequence[object], folder: SessionFolder) -> None:
    """Remove what an earlier make of this stage left and this one did not make again."""
    files = before.get("files") if isinstance(before, Mapping) else None
    for name in files if isinstance(files, Mapping) else ():
        if name not in names:
            folder.remove(str(name))
