"""Faults of finished sound, measured: DC, clicks, clipping, and sound where none is planned.

The measures know nothing of what should be heard. They find what no music of ours may have; a
brought track may hold clicks of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.music.instruments.tone import RATE, Stereo

#: A mean this far from 0 is a lean: -80 dB of full scale, far below what can be heard.
MOST_LEAN = 1e-4

#: So many equal samples in a row at the rail are a flattened peak: no wave of ours stays so long.
CLIPPED_RUN = 3
FULL = 0.999

#: The bend of the wave is taken in windows of 5 ms.
WINDOW = RATE // 200
#: A click bends the wave so many times as sharply as the 10 ms before and after it, and its bend is
#: at least LEAST_BEND there. A struck tone bends as much after its beginning, and is no click.
CLICK_RATIO, LEAST_BEND = 10.0, 1e-3

#: Silence is what stays below this: -80 dB of full scale.
SILENT = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Soundness:
    """What was measured in one sound.

    `lean` is the greater mean of its channels, `clicks` the seconds at which one is, `clipped` how
    many peaks are flattened, `in_silence` the highest sample where silence is planned.
    """

    lean: float
    clicks: tuple[float, ...]
    clipped: int
    in_silence: float

    @property
    def is_sound(self) -> bool:
        """True where no fault was found."""
        return not self.faults

    @property
    def faults(self) -> tuple[str, ...]:
        """A sentence for each fault."""
        found = []
        if self.lean > MOST_LEAN:
            found.append(f"The sound leans to one side by {self.lean:.2g} of full scale (DC).")
        if self.clicks:
            places = ", ".join(f"{s:.2f} s" for s in self.clicks[:5])
            found.append(f"There are {len(self.clicks)} clicks, at {places}.")
        if self.clipped:
            found.append(f"{self.clipped} peaks are flattened.")
        if self.in_silence > SILENT:
            level = 20 * math.log10(self.in_silence)
            found.append(f"Where silence is planned, sound reaches {level:.0f} dB.")
        return tuple(found)


class Listener:
    """Measures a sound that comes in blocks of any length, in bounded memory.

    `silences` are (start, end) in seconds, where nothing should be heard.
    """

    def __init__(self, silences: Iterable[tuple[float, float]] = ()) -> None:
        self._silences = [(round(a * RATE), round(b * RATE)) for a, b in silences]
        self._sums = np.zeros(2)
        self._at = 0
        self._rest = np.zeros((0, 2), dtype=np.float32)
        self._before = np.zeros((0, 2), dtype=np.float32)  # the last samples of the windows so far
        self._bends: list[NDArray[np.float32]] = []
        self._runs = [0, 0]
        self._clipped = 0
        self._in_silence = 0.0

    def add(self, block: Stereo) -> None:
        """Hear `block`."""
        self._sums += block.sum(axis=0, dtype=np.float64)
        for start, end in self._silences:
            piece = block[max(0, start - self._at) : max(0, end - self._at)]
            self._in_silence = max(self._in_silence, float(np.abs(piece).max(initial=0.0)))
        if any(self._runs) or max(block.max(initial=0.0), -block.min(initial=0.0)) >= FULL:
            for channel in (0, 1):
                self._count_clipped(block[:, channel], channel)
        self._bend(block)
        self._at += len(block)

    def _count_clipped(self, wave: NDArray[np.float32], channel: int) -> None:
        """Count runs of full samples; one that reaches over the edge of a block counts once."""
        at_rail = np.concatenate([[False], np.abs(wave) >= FULL, [False]])
        edges = np.flatnonzero(np.diff(at_rail.astype(np.int8)))
        open_run = self._runs[channel]
        self._runs[channel] = 0
        if open_run and not (len(edges) and edges[0] == 0):
            self._clipped += open_run >= CLIPPED_RUN
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            length = int(end - start) + (open_run if start == 0 else 0)
            if end == len(wave):
                self._runs[channel] = length
            else:
                self._clipped += length >= CLIPPED_RUN

    def _bend(self, block: Stereo) -> None:
        """Keep the sharpest bend of every whole window so far."""
        sound = np.concatenate([self._rest, block]) if len(self._rest) else block
        whole = len(sound) // WINDOW * WINDOW
        if whole:
            wide = np.concatenate([self._before, sound[:whole]])
            left, right = (np.abs(np.diff(wide[:, channel], 2)) for channel in (0, 1))
            bend = np.maximum(left, right)
            bend = np.concatenate([np.zeros(whole - len(bend), dtype=np.float32), bend])
            self._bends.append(bend.reshape(-1, WINDOW).max(axis=1).astype(np.float32))
            self._before = sound[whole - 2 : whole].copy()
        self._rest = sound[whole:].copy()

    def result(self) -> Soundness:
        """Return what all blocks so far come to."""
        still_open = sum(run >= CLIPPED_RUN for run in self._runs)
        bends = np.concatenate(self._bends) if self._bends else np.zeros(0, dtype=np.float32)
        return Soundness(
            lean=float(np.abs(self._sums).max() / max(self._at, 1)),
            clicks=tuple(float(w) * WINDOW / RATE for w in _clicks(bends)),
            clipped=int(self._clipped + still_open),
            in_silence=self._in_silence,
        )


def _clicks(bends: NDArray[np.float32]) -> NDArray[np.intp]:
    """Return the windows whose bend leaps out of those around them."""
    padded = np.pad(bends, 3)
    length = len(bends)
    around = np.maximum.reduce([padded[3 + k : 3 + k + length] for k in (-3, -2, 2, 3)])
    return np.flatnonzero(bends > CLICK_RATIO * np.maximum(around, LEAST_BEND / CLICK_RATIO))


def measured(sound: Stereo, silences: Iterable[tuple[float, float]] = ()) -> Soundness:
    """Return what is measured in the whole of `sound`, shape (frames, 2) at 48 kHz."""
    listener = Listener(silences)
    listener.add(sound)
    return listener.result()
