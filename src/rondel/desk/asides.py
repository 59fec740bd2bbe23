"""Two processes beside the server: one plans, one lets routines be heard.

So the server stays small and answers while either is at work. What is asked of them are the use
cases as they are; arguments and answers travel whole.
"""

from __future__ import annotations

import os
import resource
import threading
import time
from collections.abc import Callable, Hashable
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from multiprocessing import get_context
from typing import Any, ParamSpec, TypeVar, cast

from rondel.model.errors import OutsideFailure

P = ParamSpec("P")
T = TypeVar("T")

#: How often a process looks whether the desk is still there, seconds.
LOOKS = 2.0
#: What one piece of work may take: seconds, and the process's address space in bytes (our choice:
#: some five times what the longest plan, or a long film's fit, was seen to take).
MOST_SECONDS, MOST_BYTES = 180.0, 12 * 2**30
#: How far the work beside the desk stands back, so that leaves are shown meanwhile.
GIVES_WAY = 4


def _stay_while(desk: int) -> None:
    """Give way to the desk, and end soon after it has, however that ended."""
    os.nice(GIVES_WAY)
    with suppress(ValueError, OSError):  # not every system has such a limit
        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))

    def look() -> None:
        while os.getppid() == desk:
            time.sleep(LOOKS)
        os._exit(0)

    threading.Thread(target=look, daemon=True).start()


class Aside:
    """One process that does one thing after another."""

    def __init__(self, most_seconds: float = MOST_SECONDS) -> None:
        self._most_seconds = most_seconds
        self._lock = threading.Lock()
        self._pool: ProcessPoolExecutor | None = None
        self._lives = 0
        self._is_closed = False
        self._used = time.monotonic()
        self._under_way: Future[Any] | None = None
        self._coming: tuple[Hashable, Future[Any]] | None = None

    def do(self, work: Callable[P, T], *args: P.args, **named: P.kwargs) -> T:
        """Return what `work` returns there; raises what it raises.

        OutsideFailure where the process was ended meanwhile, or took far too long and is therefore
        ended; the next piece of work gets a new one.
        """
        pool = self._there()
        try:
            return self._submit(pool, work, *args, **named).result(self._most_seconds)
        except TimeoutError as error:
            self._forget(pool)
            says = (
                f"the work took longer than {self._most_seconds / 60:.0f} minutes and was ended; "
                "nothing was changed"
            )
            raise OutsideFailure(says) from error
        except MemoryError as error:
            says = "this needs more memory than any good file does; it was left alone"
            raise OutsideFailure(says) from error
        except (BrokenProcessPool, CancelledError) as error:
            self._forget(pool)
            says = "the work was ended by the system; nothing was changed, so try it again"
            raise OutsideFailure(says) from error

    def within(
        self, seconds: float, key: Hashable, work: Callable[..., T], *args: object
    ) -> T | None:
        """Return what `work` returns there; None where that is not done in time, or goes wrong.

        For what is good to have and nobody waits for. Asked again by the same `key`, what is then
        done or under way is given. Where other work is under way, as when the desk has only just
        been opened, none of this is begun.
        """
        with self._lock:
            future = self._coming[1] if self._coming and self._coming[0] == key else None
        try:
            if future is None:
                if self._under_way is not None and not self._under_way.done():
                    return None
                future = self._submit(self._there(), work, *args)
                with self._lock:
                    self._coming = key, future
            return cast("T", future.result(seconds))
        except TimeoutError:
            return None
        except (BrokenProcessPool, CancelledError):
            with self._lock:
                self._coming, pool = None, self._pool
            if pool is not None:
                self._forget(pool)
            return None

    @property
    def life(self) -> int:
        """Which process it is that does the next piece of work: another number, another process,
        which knows nothing of what was done before."""
        with self._lock:
            return self._lives + (self._pool is None)

    def rest(self, after: float) -> None:
        """End the process where nothing was asked of it for `after` seconds; later work gets a new
        one. What it kept in memory goes with it."""
        with self._lock:
            is_busy = self._under_way is not None and not self._under_way.done()
            if self._pool is None or is_busy or time.monotonic() - self._used < after:
                return
            pool, self._pool, self._coming = self._pool, None, None
        _end(pool)

    def _submit(
        self, pool: ProcessPoolExecutor, work: Callable[P, T], *args: P.args, **named: P.kwargs
    ) -> Future[T]:
        try:
            future = pool.submit(work, *args, **named)
        except BrokenProcessPool:
            raise
        except RuntimeError as error:  # it was ended between two lines
            raise OutsideFailure("the desk is being closed") from error
        self._used = time.monotonic()
        self._under_way = future  # one after another: the last ends last
        return future

    def _there(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._is_closed:
                raise OutsideFailure("the desk is being closed")
            if self._pool is None:
                self._lives += 1
                self._pool = ProcessPoolExecutor(
                    max_workers=1,
                    mp_context=get_context("spawn"),
                    initializer=_stay_while,
                    initargs=(os.getpid(),),
                )
            return self._pool

    def _forget(self, pool: ProcessPoolExecutor) -> None:
        with self._lock:
            if self._pool is pool:
                self._pool = None
        _end(pool)

    def close(self) -> None:
        """End the process, whatever it does."""
        with self._lock:
            pool, self._pool, self._is_closed = self._pool, None, True
        if pool is not None:
            _end(pool, waits=True)  # or Python, ending at the same moment, complains aloud


def _end(pool: ProcessPoolExecutor, *, waits: bool = False) -> None:
    for process in list((pool._processes or {}).values()):
        process.kill()
    pool.shutdown(wait=waits, cancel_futures=True)
