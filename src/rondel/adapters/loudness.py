"""A loudness meter after EBU R 128, by libav's ebur128 filter."""

from __future__ import annotations

import math

import av
import av.error
import numpy as np
from av.filter import Graph

from rondel.app.ports.sound import Block, Loudness

RATE = 48_000
STEP = RATE // 10  # the filter answers once every 100 ms


def _number(words: dict[str, str], key: str) -> float:
    return float(words.get(f"lavfi.r128.{key}", "-inf"))


class R128Meter:
    """Integrated loudness, loudness range and true peak of stereo sound, block by block."""

    def __init__(self) -> None:
        self._graph = Graph()
        self._into = self._graph.add_abuffer(
            format="flt", sample_rate=RATE, layout="stereo", time_base=None
        )
        meter = self._graph.add("ebur128", "peak=true:metadata=1")
        self._out = self._graph.add("abuffersink")
        self._into.link_to(meter)
        meter.link_to(self._out)
        self._graph.configure()
        self._rest = np.zeros((0, 2), dtype=np.float32)
        self._at = 0
        self._last: dict[str, str] = {}
        self._peak = 0.0
        self._momentary = self._short = -math.inf

    def add(self, block: Block) -> None:
        sound = np.concatenate([self._rest, block]) if len(self._rest) else block
        whole = len(sound) // STEP * STEP
        for start in range(0, whole, STEP):
            self._push(sound[start : start + STEP])
        self._rest = sound[whole:].copy()

    def _push(self, piece: Block) -> None:
        packed = np.ascontiguousarray(piece, dtype=np.float32).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(packed, format="flt", layout="stereo")
        frame.sample_rate = RATE
        frame.pts = self._at
        self._at += len(piece)
        self._into.push(frame)
        self._pull()

    def _pull(self) -> None:
        while True:
            try:
                frame = self._out.pull()
            except (av.error.BlockingIOError, av.error.EOFError):
                return
            words = dict(getattr(frame, "metadata", {}))
            if words:
                self._hear(words)

    def _hear(self, words: dict[str, str]) -> None:
        self._last = words
        self._peak = max(self._peak, _number(words, "true_peak"))
        self._momentary = max(self._momentary, _number(words, "M"))
        self._short = max(self._short, _number(words, "S"))

    def now(self) -> tuple[float, float]:
        """Return momentary and short-term loudness at the last full 100 ms, LUFS."""
        return _number(self._last, "M"), _number(self._last, "S")

    def result(self) -> Loudness:
        if len(self._rest):  # the end, made up to 100 ms with silence
            self.add(np.zeros((STEP - len(self._rest), 2), dtype=np.float32))
        return Loudness(
            integrated=_number(self._last, "I"),
            range_lu=_number(self._last, "LRA"),
            true_peak_db=20 * math.log10(self._peak) if self._peak > 0 else -math.inf,
            most_momentary=self._momentary,
            most_short_term=self._short,
        )
