"""Sound that arrives in blocks of any size, handed on as windows around evenly spaced instants."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from scipy.signal.windows import hann

Sound = NDArray[np.float32]

AT_ONCE = 1024  # windows handed on together, so that memory stays small however long a block is


class Framing:
    """Windows of `size` samples, weighted by a Hann window and centred at i ÷ `per_second`.

    The first centre is the first sample; before the start and after the end there is silence.
    A centre between two samples is moved to the nearer: an error of half a sample at most.
    """

    def __init__(self, *, rate: int, size: int, per_second: int) -> None:
        self._step = rate / per_second
        self._size = size
        self._window = hann(size, sym=False).astype(np.float32)
        self._kept: Sound = np.zeros(size // 2, dtype=np.float32)
        self._kept_from = -(size // 2)
        self._next = 0

    def feed(self, block: Sound) -> Iterator[Sound]:
        """Yield the windows that `block` completes, as float32 (windows, size)."""
        self._kept = np.concatenate([self._kept, block])
        end = self._kept_from + len(self._kept)
        ready = int((end - self._size // 2) / self._step) + 1 if end >= self._size // 2 else 0
        yield from self._until(ready)

    def finish(self, samples: int) -> Iterator[Sound]:
        """Yield the last windows of a sound of `samples` in all."""
        wanted = int(np.ceil(samples / self._step)) if samples else 0
        self._kept = np.concatenate([self._kept, np.zeros(self._size, dtype=np.float32)])
        yield from self._until(wanted)

    def _until(self, count: int) -> Iterator[Sound]:
        inside = np.arange(self._size)
        while self._next < count:
            past = min(count, self._next + AT_ONCE)
            centres = np.rint(np.arange(self._next, past) * self._step).astype(np.int64)
            starts = centres - self._size // 2 - self._kept_from
            if starts[-1] + self._size > len(self._kept):  # the last centre was rounded up
                past -= 1
                starts = starts[:-1]
                if past <= self._next:
                    break
                count = past
            yield self._kept[starts[:, None] + inside] * self._window
            self._next = past
        spare = round(self._next * self._step) - self._size // 2 - 1 - self._kept_from
        if spare > 0:
            self._kept = self._kept[spare:]
            self._kept_from += spare
