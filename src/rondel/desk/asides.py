"""Two processes beside the server: one plans, one lets routines be heard.

So the server stays small and answers while either is at work. What is asked of them are the use
cases as they are; arguments and answers travel whole.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from typing import ParamSpec, TypeVar

from rondel.model.errors import OutsideFailure

P = ParamSpec("P")
T = TypeVar("T")

#: How often a process looks whether the desk is still there, seconds.
LOOKS = 2.0


def _stay_while(desk: int) -> None:
    """Let this process end soon after the desk has, however that ended."""

    def look() -> None:
        while os.getppid() == desk:
            time.sleep(LOOKS)
        os._exit(0)

    threading.Thread(target=look, daemon=True).start()


class Aside:
    """One process that does one thing after another."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._pool: ProcessPoolExecutor | None = None

    def do(self, work: Callable[P, T], *args: P.args, **named: P.kwargs) -> T:
        """Return what `work` returns there; raises what it raises.

        OutsideFailure where the process was ended meanwhile; the next piece of work gets a new one.
        """
        pool = self._there()
        try:
            return pool.submit(work, *args, **named).result()
        except BrokenProcessPool as error:
            self._forget(pool)
            says = "the work was ended by the system; nothing was changed, so try it again"
            raise OutsideFailure(says) from error

    def within(self, seconds: float, work: Callable[..., T], *args: object) -> T | None:
        """Return what `work` returns there; None where that is not done in time, or goes wrong.

        For what is good to have and nobody waits for.
        """
        try:
            return self._there().submit(work, *args).result(seconds)
        except (BrokenProcessPool, TimeoutError):
            return None

    def _there(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._pool is None:
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
        pool.shutdown(wait=False, cancel_futures=True)

    def close(self) -> None:
        """End the process, whatever it does."""
        with self._lock:
            pool, self._pool = self._pool, None
        if pool is not None:
            for process in list((pool._processes or {}).values()):
                process.terminate()
            pool.shutdown(wait=False, cancel_futures=True)
