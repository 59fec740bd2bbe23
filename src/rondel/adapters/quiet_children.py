"""Child processes that Ctrl-C ends at once and without a word.

A terminal sends Ctrl-C to all processes of a command. The one that was asked says what there is to
say; a child that was being loaded, or waiting for work, would print where it was stopped.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing import resource_tracker
from multiprocessing.context import SpawnContext, SpawnProcess


class _Quiet(SpawnProcess):
    """A process that hears Ctrl-C only when it is ready to go without a word."""

    def start(self) -> None:
        with _held_back():
            super().start()


class QuietContext(SpawnContext):
    """Begins such processes; each must call `goes_quietly` first."""

    Process = _Quiet


def goes_quietly() -> None:
    """In a child: be ended by Ctrl-C, also by one that came while it was being loaded.

    Where a script began the command in the background, all of it goes on, as it was told to.
    """
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


@contextmanager
def _held_back() -> Iterator[None]:
    # This helper of all children lets Ctrl-C through again as it begins, so it begins before.
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
