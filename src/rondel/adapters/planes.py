"""Planes of a frame: brightness, blue and red difference in one array of (height x 3/2, width).

Differences are kept for 2 x 2 pixels, so all sizes and places are even.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Planes = NDArray[np.uint8]


def split(planes: Planes, size: tuple[int, int]) -> tuple[Planes, Planes, Planes]:
    """Return views of the three planes of a frame of `size` (width, height)."""
    width, height = size
    flat = planes.reshape(-1)
    luma, quarter = width * height, width * height // 4
    half = (height // 2, width // 2)
    return (
        flat[:luma].reshape(height, width),
        flat[luma : luma + quarter].reshape(half),
        flat[luma + quarter :].reshape(half),
    )


def joined(parts: tuple[Planes, Planes, Planes]) -> Planes:
    """Return three planes as one array, the opposite of `split`."""
    height, width = parts[0].shape
    return np.concatenate([part.reshape(-1) for part in parts]).reshape(height * 3 // 2, width)


def turned(planes: Planes, size: tuple[int, int], turns: int) -> Planes:
    """Return planes turned by quarters, against the clock."""
    y, blue, red = (np.rot90(part, turns) for part in split(planes, size))
    return joined((y, blue, red))


def mirrored(planes: Planes, size: tuple[int, int]) -> Planes:
    """Return planes as in a mirror."""
    y, blue, red = (cv2.flip(part, 1) for part in split(planes, size))
    return joined((np.asarray(y), np.asarray(blue), np.asarray(red)))


def lay(
    planes: Planes,
    size: tuple[int, int],
    canvas: Planes,
    frame: tuple[int, int],
    at: tuple[int, int],
) -> None:
    """Lay planes of `size` into a canvas of `frame` with the left upper corner `at`; what is
    outside is left out. All numbers even."""
    for part, onto, share in zip(split(planes, size), split(canvas, frame), (1, 2, 2), strict=True):
        left, top = at[0] // share, at[1] // share
        rows = slice(max(0, top), min(onto.shape[0], top + part.shape[0]))
        columns = slice(max(0, left), min(onto.shape[1], left + part.shape[1]))
        onto[rows, columns] = part[
            rows.start - top : rows.stop - top, columns.start - left : columns.stop - left
        ]
