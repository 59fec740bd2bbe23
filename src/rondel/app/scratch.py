"""Sound that is needed once more, kept on disk so that memory does not grow with the session."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

import numpy as np

from rondel.app.ports.sound import Block
from rondel.model.errors import OutsideFailure

BYTES_PER_FRAME = 8  # two channels of float32


class Scratch:
    """Stereo sound that is appended block by block, and read in any order afterwards."""

    def __init__(self, file: BinaryIO, at: str) -> None:
        self._file = file
        self._at = at
        self.frames = 0

    def append(self, block: Block) -> None:
        """Keep `block`. Raises OutsideFailure where the disk is full."""
        try:
            self._file.seek(self.frames * BYTES_PER_FRAME)
            self._file.write(np.ascontiguousarray(block, dtype=np.float32).tobytes())
        except OSError as error:
            says = f"the sound could not be kept ({error.strerror}); free some space and try again"
            raise OutsideFailure(says, at=self._at) from error
        self.frames += len(block)

    def rewrite(self, start: int, block: Block) -> None:
        """Put `block` in place of what is kept from `start` on; it must lie within."""
        if start + len(block) > self.frames:
            raise ValueError("only what is kept can be written anew")
        self._file.seek(start * BYTES_PER_FRAME)
        self._file.write(np.ascontiguousarray(block, dtype=np.float32).tobytes())

    def read(self, start: int, frames: int) -> Block:
        """Return `frames` from `start` on; silence before the beginning and past the end."""
        block = np.zeros((frames, 2), dtype=np.float32)
        low, high = max(0, start), min(self.frames, start + frames)
        if low < high:
            self._file.seek(low * BYTES_PER_FRAME)
            raw = self._file.read((high - low) * BYTES_PER_FRAME)
            block[low - start : high - start] = np.frombuffer(raw, np.float32).reshape(-1, 2)
        return block


@contextmanager
def scratch_in(folder: Path) -> Iterator[Scratch]:
    """Give a scratch that lives in `folder`, unseen, and is gone afterwards."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file = tempfile.TemporaryFile(prefix=".part-", dir=folder)  # noqa: SIM115
    except OSError as error:
        says = f"the folder cannot be written to ({error.strerror}); choose another folder"
        raise OutsideFailure(says, at=str(folder)) from error
    with file:
        yield Scratch(file, str(folder))
