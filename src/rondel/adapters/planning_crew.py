"""Helpers who plan in processes of their own: the port `Crew` of the planner."""

from __future__ import annotations

import signal
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import get_context
from multiprocessing.connection import Connection

from rondel.adapters.local_workers import cores_here
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
        for _ in range(size):
            mine, theirs = context.Pipe()
            process = context.Process(target=_help, args=(brief, craft, theirs), daemon=True)
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
    """Have a helper for every core of this machine while the block lasts; none where there is but
    one core, for who asks waits while others help."""
    cores = cores_here()
    crew = ProcessCrew(brief, craft, min(MOST, cores) if cores > 1 else 0)
    try:
        yield crew
    finally:
        crew.end()


def _help(brief: Brief, craft: Craft, pipe: Connection) -> None:
    """Play steps as they come, until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever asks ends its helpers
    attempts = Attempts(brief, craft)
    while True:
        try:
            step = pipe.recv()
        except EOFError:
            return
        assert isinstance(step, Step)
        try:
            pipe.send(attempts.play(step, THOROUGH))
        except OSError:
            return
