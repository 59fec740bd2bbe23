"""Film of a high dynamic range (Recommendation ITU-R BT.2100, HLG or PQ) brought to ordinary range.

White paper in the scene, 203 cd/m2 by Report ITU-R BT.2408, comes out near the white of the video,
what shines beyond it is bent softly into what is left, and colours are brought from BT.2020 to
BT.709 by the matrix of Recommendation ITU-R BT.2087. All constants from memory of these texts.
"""

from __future__ import annotations

from functools import cached_property

import cv2
import numpy as np
from av.video.frame import VideoFrame
from av.video.reformatter import ColorRange, Colorspace, Interpolation
from numpy.typing import NDArray

from rondel.adapters.frame_paint import planes_of_rgb

#: Transfer characteristics of ISO/IEC 23091-2.
PQ, HLG = 16, 18
_WHITE, _PEAK = 203.0, 1000.0  # cd/m2
#: Linear light up to here is kept as it is; white is 1.
_KNEE = 0.7

#: Linear BT.2020 to linear BT.709 (BT.2087-0).
_NARROWED = np.array(
    [
        [1.6605, -0.5876, -0.0728],
        [-0.1246, 1.1329, -0.0083],
        [-0.0182, -0.1006, 1.1187],
    ],
    dtype=np.float32,
)


def is_high_range(frame: VideoFrame) -> bool:
    return int(frame.color_trc) in (PQ, HLG)


def hlg_light(signal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return cd/m2 of a display of 1,000 cd/m2 for HLG signals 0 to 1 (system gamma 1.2, taken
    channel by channel)."""
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    scene = np.where(signal <= 0.5, signal**2 / 3, (np.exp((signal - c) / a) + b) / 12)
    return np.asarray(_PEAK * np.clip(scene, 0, 1) ** 1.2)


def pq_light(signal: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return cd/m2 for PQ signals 0 to 1."""
    m1, m2 = 2610 / 16384, 2523 / 4096 * 128
    c1, c2, c3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    root = signal ** (1 / m2)
    return np.asarray(10_000 * (np.maximum(root - c1, 0) / (c2 - c3 * root)) ** (1 / m1))


def bent(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return linear light 0 to 1 for light of which white is 1: soft above the knee."""
    over = np.maximum(light - _KNEE, 0) / (1 - _KNEE)
    soft = _KNEE + (1 - _KNEE) * (1 - np.exp(-over))
    return np.asarray(np.where(light > _KNEE, soft, np.maximum(light, 0)), dtype=np.float32)


class Brightened:
    """Makes ordinary planes of pictures of a high range; keeps its tables."""

    def planes(self, frame: VideoFrame, size: tuple[int, int]) -> NDArray[np.uint8]:
        """Return `frame` in `size` (width, height) as planes of BT.709 in limited range."""
        deep = frame.reformat(
            width=size[0],
            height=size[1],
            format="rgb48le",
            src_colorspace=Colorspace.BT2020,
            src_color_range=ColorRange.JPEG if int(frame.color_range) == 2 else ColorRange.MPEG,
            dst_color_range=ColorRange.JPEG,
            interpolation=Interpolation.AREA if size[0] < frame.width else Interpolation.BICUBIC,
        ).to_ndarray()
        table = self._pq if int(frame.color_trc) == PQ else self._hlg
        # The last four of sixteen bits are noise, and a small table is quick to look up in.
        light = cv2.transform(table[np.asarray(deep, dtype=np.uint16) >> 4], _NARROWED)
        signal = np.power(bent(np.asarray(light, dtype=np.float32)), np.float32(1 / 2.4))
        return planes_of_rgb((signal * 255 + 0.5).astype(np.uint8))

    @cached_property
    def _hlg(self) -> NDArray[np.float32]:
        return (hlg_light(np.arange(4096) / 4095) / _WHITE).astype(np.float32)

    @cached_property
    def _pq(self) -> NDArray[np.float32]:
        return (pq_light(np.arange(4096) / 4095) / _WHITE).astype(np.float32)
