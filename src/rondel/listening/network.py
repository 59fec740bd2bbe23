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

from rondel.listening.features import BANDS, Features, Floats, Halves, loudness_of

RATE = 50  # frames a second; frame i lies between rows 2 i and 2 i + 1, at i ÷ 50 + 5 ms
OFFSET = 0.005  # seconds
KERNEL = 5
TEMPI = 60  # bins of tempo, thirty an octave …
SLOWEST = 40.0  # … from 40 BPM
METRES = (2, 3, 4)
SEEN_AROUND = 2100  # frames to either side that matter to one: 2 × (1 + 2 + … + 512), and two more
AT_ONCE = 30_000  # frames answered together: ten minutes
CLOSE_AT_ONCE = 1500  # frames whose bands are looked at together: many numbers a frame

Weights = Mapping[str, NDArray[np.floating]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Impression:
    """What the network says, a row each RATE ÷ second: shares from 0 to 1.

    `tempo` (rows, TEMPI) and `metre` (rows, len(METRES)) each sum to 1 in every row; `tempo` as
    float16, for it is by far the largest.
    """

    beat: Floats
    downbeat: Floats
    heard: Floats
    tempo: Halves
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
        said = Impression(
            beat=np.zeros(count, dtype=np.float32),
            downbeat=np.zeros(count, dtype=np.float32),
            heard=np.zeros(count, dtype=np.float32),
            tempo=np.zeros((count, TEMPI), dtype=np.float16),
            metre=np.zeros((count, len(METRES)), dtype=np.float32),
        )
        for start in range(0, count, AT_ONCE):
            first, past = max(0, start - SEEN_AROUND), min(count, start + AT_ONCE + SEEN_AROUND)
            here = slice(start, min(count, start + AT_ONCE))
            raw = self._said(features, first, past)[start - first : here.stop - first]
            said.beat[here] = _share(raw[:, 0])
            said.downbeat[here] = _share(raw[:, 1])
            said.heard[here] = _share(raw[:, 2])
            said.tempo[here] = _shares(raw[:, 3 : 3 + TEMPI])
            said.metre[here] = _shares(raw[:, 3 + TEMPI :])
        return said

    def _said(self, features: Features, first: int, past: int) -> Floats:
        """Return the raw outputs for the frames from `first` to `past`, told from those alone."""
        parts = []
        for start in range(first, past, CLOSE_AT_ONCE):
            # A frame and its neighbour on either side: the front sees two kernels of three rows.
            low, high = max(first, start - 2), min(past, start + CLOSE_AT_ONCE + 2)
            loud = loudness_of(features.bands[2 * low : 2 * high], features.level)
            across = self._seen_across(loud.reshape(-1, 2, BANDS))
            parts.append(across[start - low : start - low + CLOSE_AT_ONCE])
        return self._heard_around(np.concatenate(parts)[: past - first])

    def answer(self, seen: Floats) -> Floats:
        """Return the raw outputs (frames, 3 + TEMPI + metres) for `seen` (frames, 2, BANDS)."""
        return self._heard_around(self._seen_across(seen))

    def _heard_around(self, across: Floats) -> Floats:
        """Return the raw outputs for (frames, channels), looking ever farther to either side."""
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
