"""What was listened to in tracks, kept in one hidden folder so that a correction need not listen
again.

One file a track, named by its digest: eight letters, the SHA-256 of all that follows, the length of
a head in JSON, the head, and the arrays as they are. Whatever is not just so is as good as not
there.
"""

from __future__ import annotations

import hashlib
import json
import os
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from rondel.adapters.atomic import whole_file
from rondel.app.ports.tracks import Listened
from rondel.listening.features import Features
from rondel.model.codec.track import heard_from_dict, heard_to_dict
from rondel.model.errors import BadInput, OutsideFailure

#: All files of a folder together; the longest unused go first. Music comes to 22 kB a second, so
#: this holds six hours, and the longest track that Rondel listens to.
MOST_BYTES = 500 * 1024 * 1024

SUFFIX = ".listened"
_MARK = b"listen1\n"
_DIGEST_BYTES = 32
_MOST_HEAD_BYTES = 32 * 1024 * 1024
#: The arrays of `Features`, and what their numbers are; little-endian on every machine.
_ARRAYS = {"bands": "<f2", "novelty": "<f2", "fine": "<f2", "pitches": "<f2", "rms": "<f4"}


class ListenedFiles:
    """The port `ListenedKept`; without a folder nothing is kept."""

    def __init__(self, folder: Path | None, most_bytes: int = MOST_BYTES) -> None:
        self._folder = folder
        self._most_bytes = most_bytes

    def listened(self, track: str, way: str) -> Listened | None:
        path = self._path(track)
        if path is None:
            return None
        try:
            with path.open("rb") as file:
                found = _read(file, track, way)
            _used_now(path)
        except (OSError, ValueError, KeyError, TypeError, RecursionError, BadInput):
            return None  # then the track is listened to anew
        return found

    def keep(self, track: str, way: str, listened: Listened) -> None:
        path = self._path(track)
        if path is None:
            return
        with suppress(OutsideFailure):  # what cannot be kept is listened to again, no more
            with whole_file(path) as part, part.open("wb") as file:
                _write(file, track, way, listened)
            _used_now(path)
            self._make_room(path)

    def forget(self, track: str) -> bool:
        path = self._path(track)
        if path is None or not path.is_file():
            return False
        try:
            path.unlink()
        except OSError as error:
            says = f"the file cannot be taken away ({error.strerror})"
            raise OutsideFailure(says, at=str(path)) from error
        with suppress(OSError):
            path.parent.rmdir()  # where nothing else is kept
        return True

    def _path(self, track: str) -> Path | None:
        return None if self._folder is None else self._folder / f"{track}{SUFFIX}"

    def _make_room(self, newest: Path) -> None:
        """Take the longest unused files away until all are within the bound; never the newest."""
        with suppress(OSError):
            others = [p for p in newest.parent.glob(f"*{SUFFIX}") if p != newest]
            known = sorted((p.stat().st_mtime_ns, p.name, p.stat().st_size, p) for p in others)
            total = newest.stat().st_size + sum(size for _, _, size, _ in known)
            for _, _, size, path in known:
                if total <= self._most_bytes:
                    return
                path.unlink(missing_ok=True)
                total -= size


def _used_now(path: Path) -> None:
    """Mark a file as used: the longest unused go first."""
    now = time.time_ns()
    with suppress(OSError):
        os.utime(path, ns=(now, now))


def _write(file: BinaryIO, track: str, way: str, listened: Listened) -> None:
    features = listened.features
    arrays = {n: np.ascontiguousarray(getattr(features, n), dtype=t) for n, t in _ARRAYS.items()}
    head = {
        "track": track,
        "listening": way,
        "seconds": features.seconds,
        "level": features.level,
        "shapes": {name: list(array.shape) for name, array in arrays.items()},
        "loudness": listened.loudness,
        "true_peak": listened.true_peak,
        "first": heard_to_dict(listened.first),
    }
    told = json.dumps(head).encode()
    parts = [len(told).to_bytes(8, "little"), told]
    parts += [array.data.cast("B") for array in arrays.values() if array.size]  # type: ignore[misc]
    total = hashlib.sha256()
    for part in parts:
        total.update(part)
    for part in (_MARK, total.digest(), *parts):
        file.write(part)


def _read(file: BinaryIO, track: str, way: str) -> Listened | None:
    """Return what `file` holds; None where it is of another track or way, or damaged."""
    if file.read(len(_MARK)) != _MARK:
        return None
    digest = file.read(_DIGEST_BYTES)
    total = hashlib.sha256()

    def taken(count: int) -> bytes:
        part = file.read(count)
        if len(part) != count:
            raise ValueError("the file is cut off")
        total.update(part)
        return part

    head_bytes = int.from_bytes(taken(8), "little")
    if head_bytes > _MOST_HEAD_BYTES:
        return None
    head = json.loads(taken(head_bytes))
    if (head["track"], head["listening"]) != (track, way):
        return None
    arrays = dict(_arrays(head["shapes"], taken))
    if file.read(1) or total.digest() != digest:
        return None
    return Listened(
        features=Features(seconds=head["seconds"], level=head["level"], **arrays),
        loudness=head["loudness"],
        true_peak=head["true_peak"],
        first=heard_from_dict(head["first"]),
    )


def _arrays(shapes: dict[str, list[int]], taken: Any) -> Iterator[tuple[str, NDArray[Any]]]:
    for name, kind in _ARRAYS.items():
        shape, each = tuple(shapes[name]), np.dtype(kind)
        count = int(np.prod(shape, dtype=np.int64))
        if not 0 <= count * each.itemsize <= MOST_BYTES:
            raise ValueError("no track is so long")
        whole = np.frombuffer(taken(count * each.itemsize), dtype=each).reshape(shape)
        yield name, whole.astype(each.newbyteorder("="), copy=False)
