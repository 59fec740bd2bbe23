"""A session made in a process of its own: both ends of it.

The parent hands over an order through the child's standard input, and afterwards how many cores
the child may use, whenever that changes. The child tells through its standard output what happens.
When that input ends, because the parent asks it to stop or is gone, the child stops as at Ctrl-C.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection

from rondel.app.failed import OUTSIDE, told_of
from rondel.app.make_session import Made
from rondel.app.ports.workers import Ended, Event, StageAdvanced, StageBegan, StageEnded
from rondel.app.progress import Progress

#: Threads of linear algebra, as the command has it (`cli/main.py`): the last bits of sound hang on
#: it, and a child may be begun by a program that is not the command.
THREADS = ("OPENBLAS_NUM_THREADS", "1")
#: Told no more often than this: seconds.
TELL_EVERY = 0.2
#: A child that is asked to stop finishes what is safe to finish; after so many seconds it is ended.
GRACE_SECONDS = 20.0
STOPPED = Ended(says="It was stopped; what is finished of it is kept.", exit_code=130)
DIED = Ended(
    says="the computer stopped this session, perhaps for want of memory; make it again, with a "
    "smaller --at-once: what is finished is kept.",
    exit_code=OUTSIDE,
)


class Child:
    """One session under way, seen by its parent."""

    def __init__(self, module: str, order: bytes, cores: int) -> None:
        told, tells = os.pipe()
        hears, says = os.pipe()
        quiet = None if os.environ.get("RONDEL_TRACE") else subprocess.DEVNULL
        try:
            # A group of its own: Ctrl-C reaches the parent alone, which then stops its children.
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", module],
                stdin=hears,
                stdout=tells,
                stderr=quiet,
                start_new_session=True,
                env={THREADS[0]: THREADS[1], **os.environ},
            )
        except BaseException:
            os.close(told)
            os.close(says)
            raise
        finally:
            os.close(tells)
            os.close(hears)
        #: Ready to be read when there is something to tell.
        self.told = Connection(told, writable=False)
        self._says = Connection(says, readable=False)
        self._cores = 0
        self._send(order)
        self.may_use(cores)

    def may_use(self, cores: int) -> None:
        """Let it use so many cores from its next stage on."""
        if cores != self._cores:
            self._cores = cores
            self._send(cores)

    def _send(self, what: bytes | int) -> None:
        with suppress(OSError):  # it has died, which `next_event` will tell
            self._says.send(what)

    def next_event(self) -> Event:
        """Return what it tells next; waits for it. Of a child that died an `Ended` as well."""
        try:
            event: Event = self.told.recv()
        except (EOFError, OSError):
            return DIED
        return event

    def stop(self) -> None:
        """Ask it to stop."""
        if not self._says.closed:
            self._says.close()

    def finish(self, grace_seconds: float | None = None) -> None:
        """Wait until it is gone with all its own children; past the grace they are ended."""
        self.stop()
        self.told.close()
        try:
            self._process.wait(GRACE_SECONDS if grace_seconds is None else grace_seconds)
        except subprocess.TimeoutExpired:
            pass
        finally:
            self._end_group()

    def _end_group(self) -> None:
        with suppress(ProcessLookupError, PermissionError):  # nobody is left of it
            os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()


class _Teller:
    """Progress that is told to the parent."""

    def __init__(self, tells: Connection) -> None:
        self._tells = tells
        self._done = 0.0
        self._last = 0.0

    def begin(self, stage: str, total: float) -> None:
        self._done, self._last = 0.0, time.monotonic()
        self._tell(StageBegan(stage=stage, total=total))

    def advance(self, done: float) -> None:
        self._done += done
        if time.monotonic() - self._last >= TELL_EVERY:
            self._tell(StageAdvanced(done=self._done))
            self._done, self._last = 0.0, time.monotonic()

    def end(self) -> None:
        self._tell(StageEnded())

    def _tell(self, event: Event) -> None:
        try:
            self._tells.send(event)
        except OSError:  # the parent is gone
            raise KeyboardInterrupt from None


class _Cores:
    """How many cores may be used now, as the parent last said."""

    def __init__(self, hears: Connection) -> None:
        self._hears = hears
        self.now: int = hears.recv()
        self.is_over = False

    def listen(self) -> None:
        """Hear the parent until it says no more; then stop the work."""
        try:
            while True:
                self.now = self._hears.recv()
        except (EOFError, OSError):
            main = threading.main_thread().ident
            if not self.is_over and main is not None:
                # A real signal, because it also wakes work that waits for something.
                signal.pthread_kill(main, signal.SIGINT)


Work = Callable[[bytes, Progress, Callable[[], int]], Made]


def serve(work: Work) -> None:
    """Be the child: hear the order, do `work`, and tell what came of it."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    tells = Connection(os.dup(1), readable=False)
    os.dup2(2, 1)  # whatever a library prints is not to be taken for an answer
    hears = Connection(os.dup(0), writable=False)
    with open(os.devnull) as nothing:  # noqa: PTH123
        os.dup2(nothing.fileno(), 0)
    order: bytes = hears.recv()
    cores = _Cores(hears)
    threading.Thread(target=cores.listen, daemon=True).start()
    try:
        ended = Ended(made=work(order, _Teller(tells), lambda: cores.now))
    except KeyboardInterrupt:
        ended = STOPPED
    except Exception as error:
        if os.environ.get("RONDEL_TRACE"):
            traceback.print_exc()
        says, code = told_of(error)
        ended = Ended(says=says, exit_code=code)
    cores.is_over = True
    with suppress(OSError):  # nobody is there to hear it
        tells.send(ended)
