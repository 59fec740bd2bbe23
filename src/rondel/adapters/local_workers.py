"""Many sessions over the cores of this machine, each in a process of its own."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Generator, Sequence
from multiprocessing.connection import Connection, wait

from rondel.adapters.session_child import Child
from rondel.app.ports.workers import Ended, Event

#: What a session of fifteen minutes may take at its most, with room to spare.
BYTES_EACH = 1536 * 2**20


def cores_here() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def usual_at_once() -> int:
    """Return how many sessions are made at once where nobody says: one a core, fewer where memory
    is short (BYTES_EACH for each)."""
    memory = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    return max(1, min(cores_here(), memory // BYTES_EACH))


class LocalWorkers:
    """The port `Workers`: at most `at_once` children, which share `cores` among them.

    `module` is run by each child. A child that dies takes nothing but its own session with it.
    """

    def __init__(self, module: str, at_once: int, cores: int | None = None) -> None:
        self._module = module
        self._at_once = at_once
        self._cores = cores or cores_here()

    def run(self, orders: Sequence[bytes]) -> Generator[tuple[int, Event], None, None]:
        waiting = deque(enumerate(orders))
        running: dict[Connection, tuple[int, Child]] = {}
        try:
            while waiting or running:
                while waiting and len(running) < self._at_once:
                    number, order = waiting.popleft()
                    many = min(self._at_once, len(running) + 1 + len(waiting))
                    child = Child(self._module, order, self._share(many))
                    running[child.told] = number, child
                for ready in wait(list(running)):
                    assert isinstance(ready, Connection)
                    number, child = running[ready]
                    event = child.next_event()
                    if isinstance(event, Ended):
                        del running[ready]
                        child.finish()
                        self._share_out(running, len(waiting))
                    yield number, event
        finally:
            _end([child for _, child in running.values()])

    def _share_out(self, running: dict[Connection, tuple[int, Child]], waiting: int) -> None:
        """When nobody waits any more, the cores of those who are done go to the others."""
        many = min(self._at_once, len(running) + waiting)
        for _, child in running.values():
            child.may_use(self._share(many))

    def _share(self, many: int) -> int:
        return max(1, self._cores // max(1, many))


def _end(children: Sequence[Child]) -> None:
    """Stop all at the same time, and wait for them; whoever is impatient ends them at once."""
    for child in children:
        child.stop()
    patience = True
    for child in children:
        try:
            child.finish() if patience else child.finish(0)
        except KeyboardInterrupt:
            patience = False
            child.finish(0)
    if not patience:
        raise KeyboardInterrupt
