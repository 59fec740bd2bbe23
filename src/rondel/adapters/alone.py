"""One at a time: work that two processes must not do at once waits for its turn."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

#: Each turn of another process may take the file away under one's hands once.
_TRIES = 1000


@contextmanager
def alone(path: Path, on_wait: Callable[[], None] | None = None) -> Iterator[None]:
    """Hold the lock file `path` while the work lasts; it is gone afterwards.

    Where another process holds it, `on_wait` is called once, and then this one waits. The system
    frees the lock of a process that died. Where no lock can be had (a folder that is only to be
    read, a disk without locks), the work goes on without: it is safe alone, which is the usual.
    """
    handle = _held(path, on_wait)
    try:
        yield
    finally:
        if handle is not None:
            # Taken away while it is held, so that nobody can hold a file that has gone.
            path.unlink(missing_ok=True)
            os.close(handle)


def _held(path: Path, on_wait: Callable[[], None] | None) -> int | None:
    """Return the open lock file, locked; None where there are no locks."""
    for _ in range(_TRIES):
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        except FileNotFoundError:
            continue  # the folder was tidied away just now
        except OSError:
            return None
        try:
            _lock(handle, on_wait)
            if _is_still(path, handle):
                return handle
        except OSError:
            os.close(handle)
            return None
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)  # whoever held it took it away: begin again with a new one
    return None


def _lock(handle: int, on_wait: Callable[[], None] | None) -> None:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        if on_wait is not None:
            on_wait()
        fcntl.flock(handle, fcntl.LOCK_EX)


def _is_still(path: Path, handle: int) -> bool:
    """True where the name `path` still stands for the open file."""
    try:
        there = path.stat()
    except FileNotFoundError:
        return False
    mine = os.fstat(handle)
    return (there.st_dev, there.st_ino) == (mine.st_dev, mine.st_ino)
