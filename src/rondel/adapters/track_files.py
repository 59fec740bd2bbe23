"""The tracks that a teacher brings, read from this machine's disk in bounded memory."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import soxr

from rondel.adapters.track_channels import fold, fold_weights
from rondel.adapters.track_decoding import DAMAGED, NO_SOUND, Decoded, opened
from rondel.adapters.track_promise import missing_bytes
from rondel.app.ports.sound import Block
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.time import as_minutes

LONGEST_SECONDS = 3 * 3600.0
SHORTEST_SECONDS = 4.0
#: A guess where a file does not tell its length; only the progress bar sees it.
USUAL_SECONDS = 240.0
#: A head that counts a padding byte which was never written is no harm.
SPARE_BYTES = 64
#: Samples that are no numbers (a broken float file) are silence; so long a hole is refused instead.
LONGEST_HOLE = 0.5

TOO_LONG = "this track lasts more than three hours; three is the most that Rondel listens to"
TOO_SHORT = "this is only {seconds:.1f} seconds of sound, too little to hear anything in it"
CUT_OFF = "the file is cut off: its end is missing; copy it again"
EMPTY = "the file is empty"


class TrackFiles:
    """The port `Tracks`: plain files through libsndfile, all others through libav."""

    def seconds_told(self, path: Path) -> float:
        with _readable(path) as decoded:
            told = decoded.seconds_told or USUAL_SECONDS
        if told > LONGEST_SECONDS * 1.5:  # clear before anything is read, even if only a guess
            raise BadInput(TOO_LONG, at=str(path))
        return min(told, LONGEST_SECONDS)

    def blocks(self, path: Path, rates: tuple[int, ...]) -> Iterator[tuple[Block, ...]]:
        with _readable(path) as decoded:
            weights = fold_weights(decoded.places)
            changers = [_Rate(decoded.rate, rate) for rate in rates]
            frames = broken = 0
            for chunk in decoded.chunks:
                lost = np.flatnonzero(~np.isfinite(chunk).all(axis=1))
                broken += len(lost)
                if broken > LONGEST_HOLE * decoded.rate:
                    at = (frames + int(lost[0])) / decoded.rate
                    raise BadInput(DAMAGED.format(at=as_minutes(at)), at=str(path))
                frames += len(chunk)
                if frames > LONGEST_SECONDS * decoded.rate:
                    raise BadInput(TOO_LONG, at=str(path))
                stereo = fold(chunk, weights)
                yield tuple(changer.take(stereo) for changer in changers)
            _must_last(frames / decoded.rate, path)
            yield tuple(changer.rest() for changer in changers)

    def digest(self, path: Path) -> str:
        with _mapped(path), path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()


class _Rate:
    """Stereo sound from one rate to another, its start staying where it is."""

    def __init__(self, of: int, to: int) -> None:
        self._stream = None if of == to else soxr.ResampleStream(of, to, 2, dtype="float32")

    def take(self, block: Block) -> Block:
        return block if self._stream is None else self._change(block, is_last=False)

    def rest(self) -> Block:
        empty = np.zeros((0, 2), dtype=np.float32)
        return empty if self._stream is None else self._change(empty, is_last=True)

    def _change(self, block: Block, *, is_last: bool) -> Block:
        assert self._stream is not None
        changed: Block = self._stream.resample_chunk(block, last=is_last)
        return changed


@contextmanager
def _readable(path: Path) -> Iterator[Decoded]:
    with _mapped(path):
        if path.stat().st_size == 0:
            raise BadInput(EMPTY, at=str(path))
        if missing_bytes(path) > SPARE_BYTES:
            raise BadInput(CUT_OFF, at=str(path))
        with opened(path) as decoded:
            yield decoded


@contextmanager
def _mapped(path: Path) -> Iterator[None]:
    """Turn what the disk says into sentences."""
    try:
        yield
    except FileNotFoundError as error:
        says = "there is no such file; check the name and the folder"
        raise BadInput(says, at=str(path)) from error
    except IsADirectoryError as error:
        raise BadInput("this is a folder, and a track is expected", at=str(path)) from error
    except OSError as error:
        says = f"the file cannot be read ({error.strerror or error})"
        raise OutsideFailure(says, at=str(path)) from error


def _must_last(seconds: float, path: Path) -> None:
    if seconds == 0:
        raise BadInput(NO_SOUND, at=str(path))
    if seconds < SHORTEST_SECONDS:
        raise BadInput(TOO_SHORT.format(seconds=seconds), at=str(path))
