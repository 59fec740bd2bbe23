"""One writer at a time in a folder, among windows, threads and programs."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rondel.model.errors import OutsideFailure

LOCK = ".lock"


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Wait until nobody else writes in `folder`, and keep others waiting meanwhile.

    Raises OutsideFailure where the folder cannot be written to.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError as error:
        says = f"this folder cannot be written to ({error.strerror})"
        raise OutsideFailure(says, at=str(folder)) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)
