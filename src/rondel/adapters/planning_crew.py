"""Helpers who plan in processes of their own: the port `Crew` of the planner."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection

from rondel.adapters.local_workers import usual_at_once
from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.planner.attempts import THOROUGH, Attempts
from rondel.planner.crew import Done, Step, nothing_known

#: Helpers at most: there are eight homes.
MOST = 8


class ProcessCrew:
    """Helpers in processes. Each sets up its networks anew from the brief, so nothing is shared.

    A helper that died answers no more; whoever asks goes on without it.
    """

    def __init__(self, brief: Brief, craft: Craft, size: int) -> None:
        context = get_context("spawn")  # a fork would carry the threads of others with it
        self._pipes: list[Connection] = []
        self._processes = []
        with _deaf():
            for _ in range(size):
                mine, theirs = context.Pipe()
                known = brief, craft, theirs, os.getpid()
                process = context.Process(target=_help, args=known, daemon=True)
                process.start()
                theirs.close()
                self._pipes.append(mine)
                self._processes.append(process)
        self._given: list[deque[Step]] = [deque() for _ in range(size)]
        self._is_there = [True] * size

    @property
    def size(self) -> int:
        return len(self._pipes)

    def is_there(self, helper: int) -> bool:
        return self._is_there[helper]

    def start(self, helper: int, step: Step) -> None:
        self._given[helper].append(step)
        try:
            self._pipes[helper].send(step)
        except OSError:
            self._is_there[helper] = False

    def done(self, helper: int, seconds: float) -> Done | None:
        given = self._given[helper]
        try:
            if self._is_there[helper] and not self._pipes[helper].poll(seconds):
                return None
            done = self._pipes[helper].recv()
        except (OSError, EOFError):
            self._is_there[helper] = False
            return nothing_known(given.popleft()) if given else None
        assert isinstance(done, Done)
        given.popleft()
        return done

    def end(self) -> None:
        """End all helpers, whatever they are at."""
        for process in self._processes:
            process.terminate()
        for process, pipe in zip(self._processes, self._pipes, strict=True):
            process.join()
            pipe.close()


@contextmanager
def planning_crew(brief: Brief, craft: Craft) -> Iterator[ProcessCrew]:
    """Have a helper for every core of this machine while the block lasts, fewer where memory is
    short; none where it would be one, for who asks waits while others help."""
    many = min(MOST, usual_at_once())
    crew = ProcessCrew(brief, craft, many if many > 1 else 0)
    try:
        yield crew
    finally:
        crew.end()


@contextmanager
def _deaf() -> Iterator[None]:
    """Let processes that are started here not hear Ctrl-C: whoever asks ends its helpers."""
    if threading.current_thread() is not threading.main_thread():
        yield  # only the main thread may, and only it is told of Ctrl-C
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _leave_with(asker: int) -> None:
    """End this process as soon as the one who asks is gone."""
    while os.getppid() == asker:
        time.sleep(1.0)
    os._exit(0)


def _help(brief: Brief, craft: Craft, pipe: Connection, asker: int) -> None:
    """Play steps as they come, until nobody asks any more."""
    threading.Thread(target=_leave_with, args=(asker,), daemon=True).start()
    attempts = Attempts(brief, craft)
    while True:
        try:
            step = pipe.recv()
        except EOFError:
            return
        assert isinstance(step, Step)
        try:
            pipe.send(attempts.play(step, THOROUGH))
        except (OSError, MemoryError):
            return  # whoever asks is told that this helper is gone
