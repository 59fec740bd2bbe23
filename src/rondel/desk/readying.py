"""Work ahead of what is likely to be asked for next, a step at a time, for one thing at a time."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Hashable, Sequence

from rondel.model.errors import RondelError

#: How long a page that was just asked for has the machine for itself, seconds.
MOMENT = 0.5

Work = Callable[[Hashable], None]


class Readying:
    """Does the steps of the last thing that was begun; those of an earlier one are left."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._key: Hashable = None
        self._done: set[Hashable] = set()
        self._to_do: deque[tuple[Hashable, Work]] = deque()
        self._thread: threading.Thread | None = None

    def begin(self, key: Hashable, steps: Sequence[Hashable], work: Work) -> None:
        """Do `work` with each of `steps` in a moment, in order, without waiting for it.

        Begun again with the same `key`, perhaps in another order, it goes on with what is left. A
        step that fails is the last of its key: who needs it will be told.
        """
        with self._lock:
            if key != self._key:
                self._key, self._done = key, set()
            self._to_do = deque((step, work) for step in steps if step not in self._done)
            is_busy = self._thread is not None and self._thread.is_alive()
            if self._to_do and not is_busy:
                self._thread = threading.Thread(target=self._go, daemon=True)
                self._thread.start()

    def stop(self) -> None:
        """Do no further steps."""
        with self._lock:
            self._to_do.clear()

    def _go(self) -> None:
        time.sleep(MOMENT)
        while True:
            with self._lock:
                if not self._to_do:
                    self._thread = None  # what comes now begins another
                    return
                step, work = self._to_do.popleft()
                done = self._done
                done.add(step)
            try:
                work(step)
            except RondelError:
                with self._lock:
                    done.discard(step)
                    if done is self._done:
                        self._to_do.clear()
