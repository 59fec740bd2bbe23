"""Long work in processes of its own: made, heard, watched, with progress, and stopped at will.

A worker is told what to do on its first line, tells how far it is in lines of JSON, and ends when
the desk does: its standard input closes. What decodes strangers' files or needs much memory can so
take nothing down but itself.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import IO

from rondel.model.errors import BadInput

#: A worker that was asked to stop is ended for good after so many seconds.
PATIENCE = 8.0
#: As the desk ends, all workers together have so many seconds.
MOMENT = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How far a piece of work is. `share` 0..1 of the stage; `result` once it is `done`.

    `trouble` is a sentence where it ended badly; `is_stopped` where it was asked to stop.
    """

    stage: str = ""
    share: float = 0.0
    stages: tuple[str, ...] = ()
    is_running: bool = True
    is_stopped: bool = False
    trouble: str = ""
    result: Mapping[str, object] | None = None
    began: float = field(default_factory=time.time)


class Job:
    """One worker at work."""

    def __init__(self, order: Mapping[str, object]) -> None:
        self.order = order
        self._lock, self._state = threading.Lock(), State()
        self._stopping = False
        self._process = subprocess.Popen(
            [sys.executable, "-m", "rondel.desk.worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        self._said: list[str] = []
        words, told, said = self._process.stdin, self._process.stdout, self._process.stderr
        assert words is not None
        words.write(json.dumps(order) + "\n")
        words.flush()
        self._threads = [
            threading.Thread(target=self._listen, args=(told,), daemon=True),
            threading.Thread(target=self._overhear, args=(said,), daemon=True),
        ]
        for thread in self._threads:
            thread.start()

    @property
    def state(self) -> State:
        with self._lock:
            return self._state

    def stop(self) -> None:
        """Ask the worker to stop; what it has finished stays."""
        self._stopping = True
        self._signal(signal.SIGINT)
        timer = threading.Timer(PATIENCE, self._signal, (signal.SIGKILL,))
        timer.daemon = True
        timer.start()

    def kill(self) -> None:
        """End the worker now, and all that work for it."""
        self._signal(signal.SIGKILL)

    def wait(self, seconds: float) -> State:
        """Return the state once the work has ended, or after so many seconds."""
        self._threads[0].join(seconds)
        return self.state

    def _signal(self, number: int) -> None:
        if self._process.poll() is None:
            try:
                os.killpg(self._process.pid, number)
            except (ProcessLookupError, PermissionError):
                return

    def _overhear(self, stream: IO[str]) -> None:
        """Read what libraries print, so that no pipe fills up."""
        for line in stream:
            self._said = [*self._said, line][-40:]

    def _listen(self, stream: IO[str]) -> None:
        for line in stream:
            try:
                told = json.loads(line)
            except ValueError:
                continue  # a library printed something
            if isinstance(told, dict):
                self._note(told)
        self._end(self._process.wait())

    def _note(self, told: Mapping[str, object]) -> None:
        with self._lock:
            if "stage" in told:
                stage = str(told["stage"])
                stages = self._state.stages
                if not stages or stages[-1] != stage:
                    stages = (*stages, stage)
                self._state = replace(
                    self._state, stage=stage, share=float(str(told.get("share", 0))), stages=stages
                )
            if "trouble" in told:
                self._state = replace(self._state, trouble=str(told["trouble"]))
            result = told.get("result")
            if isinstance(result, dict):
                self._state = replace(self._state, result=result)

    def _end(self, code: int) -> None:
        with self._lock:
            state = self._state
            trouble = state.trouble
            if state.result is None and not trouble and not self._stopping:
                trouble = _fell_over(code)
            self._state = replace(
                state,
                is_running=False,
                is_stopped=self._stopping and state.result is None,
                trouble="" if self._stopping else trouble,
            )


def _fell_over(code: int) -> str:
    if code < 0 and -code in (signal.SIGKILL, signal.SIGXCPU, signal.SIGSEGV, signal.SIGABRT):
        return (
            "The work was ended by the system: the file asked for more time or memory than any "
            "good file needs, or it is damaged. Nothing else was touched."
        )
    return "The work ended before it was finished. Nothing else was touched; try it again."


class Jobs:
    """The work under way, by what it is about; one at a time for each."""

    def __init__(self) -> None:
        self._lock, self._jobs = threading.Lock(), dict[str, Job]()

    def start(self, about: str, order: Mapping[str, object]) -> Job:
        """Start work, or return the same work that is under way.

        BadInput where other work about the same thing is under way.
        """
        with self._lock:
            there = self._jobs.get(about)
            if there is not None and there.state.is_running:
                if there.order != order:
                    raise BadInput("this is being worked on; wait until it is done, or stop it")
                return there
            self._jobs[about] = job = Job(order)
            return job

    def find(self, about: str) -> Job | None:
        with self._lock:
            return self._jobs.get(about)

    def states(self) -> dict[str, State]:
        """Return how far everything is that was begun and not forgotten."""
        with self._lock:
            return {about: job.state for about, job in self._jobs.items()}

    def forget(self, about: str) -> None:
        """Forget work that has ended."""
        with self._lock:
            there = self._jobs.get(about)
            if there is not None and not there.state.is_running:
                del self._jobs[about]

    def stop_all(self) -> None:
        """End all work soon: what is finished stays, and the rest is made anew another time."""
        with self._lock:
            jobs = [job for job in self._jobs.values() if job.state.is_running]
        for job in jobs:
            job.stop()
        end = time.monotonic() + MOMENT
        for job in jobs:
            job.wait(max(0.0, end - time.monotonic()))
            job.kill()
