"""A small network of our own that hears beats, run with numpy alone.

Trained by `training/beat_network.py`; what it learned from is in docs/decisions/0010. It sees
`Features.bands` at 50 frames a second, 41 s to either side, and says of every frame how sure it is
of a beat, a downbeat and of anything beating at all, and which tempo and metre it hears.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rondel.listening.features import BANDS, Features, Floats, loudness_of

RATE = 50  # frames a second; frame i lies between rows 2 i and 2 i + 1, at i ÷ 50 + 5 ms
OFFSET = 0.005  # seconds
KERNEL = 5
TEMPI = 60  # bins of tempo, thirty an octave …
SLOWEST = 40.0  # … from 40 BPM
METRES = (2, 3, 4)
SEEN_AROUND = 2100  # frames to either side that matter to one: 2 × (1 + 2 + … + 512), and two more
AT_ONCE = 6000  # frames answered together: two minutes

Weights = Mapping[str, NDArray[np.floating]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Impression:
    """What the network says, a row each RATE ÷ second: shares from 0 to 1.

    `tempo` (rows, TEMPI) and `metre` (rows, len(METRES)) each sum to 1 in every row.
    """

    beat: Floats
    downbeat: Floats
    heard: Floats
    tempo: Floats
    metre: Floats


class BeatNetwork:
    """The network with its weights; the same features always give the same impression."""

    def __init__(self, weights: Weights) -> None:
        self._weights = {
            name: np.asarray(value, dtype=np.float32) for name, value in weights.items()
        }
        self._front = [self._columns(f"front{index}_weight") for index in range(3)]
        self._blocks = sum(name.startswith("wide") for name in self._weights) // 2

    def _columns(self, name: str) -> Floats:
        weight = self._weights[name]
        return np.ascontiguousarray(weight.reshape(len(weight), -1).T)

    def hear(self, features: Features) -> Impression:
        """Return the impression of a whole track, in blocks that each see enough around them."""
        count = len(features.bands) // 2
        parts = []
        for start in range(0, count, AT_ONCE):
            first, past = max(0, start - SEEN_AROUND), min(count, start + AT_ONCE + SEEN_AROUND)
            loud = loudness_of(features.bands[2 * first : 2 * past], features.level)
            said = self.answer(loud.reshape(-1, 2, BANDS))
            parts.append(said[start - first : start - first + AT_ONCE][: count - start])
        outputs = 3 + TEMPI + len(METRES)
        said = np.concatenate([np.zeros((0, outputs), dtype=np.float32), *parts])
        return Impression(
            beat=_share(said[:, 0]),
            downbeat=_share(said[:, 1]),
            heard=_share(said[:, 2]),
            tempo=_shares(said[:, 3 : 3 + TEMPI]),
            metre=_shares(said[:, 3 + TEMPI :]),
        )

    def answer(self, seen: Floats) -> Floats:
        """Return the raw outputs (frames, 3 + TEMPI + metres) for `seen` (frames, 2, BANDS)."""
        across = self._seen_across(seen)
        gathered = np.zeros_like(across)
        for index in range(self._blocks):
            inner = self._mixed(self._reached(across, index), index)
            gathered += inner
            across = across + inner
        np.maximum(gathered, 0, out=gathered)
        said = gathered @ self._weights["head_weight"].T + self._weights["head_bias"]
        return np.asarray(said, dtype=np.float32)

    def _seen_across(self, seen: Floats) -> Floats:
        """Return (frames, channels): patterns over neighbouring frames and bands."""
        bands = np.moveaxis(seen, 1, 2)  # (frames, BANDS, channels)
        for index in range(2):
            bands = _pooled(self._rectified(_patches(bands, 3, 3), index))
        last = np.moveaxis(bands, 1, 2).reshape(len(bands), -1)
        found = last @ self._front[2] + self._weights["front2_bias"]
        return np.asarray(np.maximum(found, 0), dtype=np.float32)

    def _rectified(self, patches: Floats, index: int) -> Floats:
        frames, bands, width = patches.shape
        flat = patches.reshape(-1, width) @ self._front[index]
        flat += self._weights[f"front{index}_bias"]
        np.maximum(flat, 0, out=flat)
        return flat.reshape(frames, bands, -1)

    def _reached(self, across: Floats, index: int) -> Floats:
        """Return one block's look 1, 2, 4 … frames apart to either side."""
        weight = self._weights[f"wide{index}_weight"]  # (out, in, KERNEL)
        step = 2**index
        count = len(across)
        out = np.repeat(self._weights[f"wide{index}_bias"][None], count, axis=0)
        for tap in range(KERNEL):
            shift = (tap - KERNEL // 2) * step
            low, high = max(0, -shift), min(count, count - shift)
            if low < high:
                out[low:high] += across[low + shift : high + shift] @ weight[:, :, tap].T
        return np.maximum(out, 0, out=out)

    def _mixed(self, reached: Floats, index: int) -> Floats:
        mixed = reached @ self._weights[f"mix{index}_weight"].T
        mixed += self._weights[f"mix{index}_bias"]
        return np.asarray(mixed, dtype=np.float32)


def _patches(grid: Floats, tall: int, wide: int) -> Floats:
    """Return (frames, bands, channels × tall × wide): each place with its neighbours."""
    edge = ((tall // 2, tall // 2), (wide // 2, wide // 2), (0, 0))
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(grid, edge), (tall, wide), (0, 1))
    return np.ascontiguousarray(windows).reshape(*grid.shape[:2], -1)


def _pooled(grid: Floats) -> Floats:
    """Keep the strongest of every three bands."""
    frames, bands, channels = grid.shape
    strongest = grid.reshape(frames, bands // 3, 3, channels).max(axis=2)
    return np.asarray(strongest, dtype=np.float32)


def _share(logits: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-np.clip(logits, -30, 30))), dtype=np.float32)


def _shares(logits: Floats) -> Floats:
    raised = np.exp(logits - logits.max(axis=1, keepdims=True)) if logits.size else logits
    return np.asarray(raised / np.maximum(raised.sum(axis=1, keepdims=True), 1e-9))
