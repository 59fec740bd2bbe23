"""Drawn frames set anew for a tall or a square video."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import cv2
import numpy as np

from rondel.adapters.frame_paint import planes_of_rgb
from rondel.adapters.planes import Planes, joined, lay, split
from rondel.drawing.frames.layout import Box
from rondel.drawing.frames.shapes import SETTINGS, SIZES, Setting, Shape
from rondel.drawing.ink import PAPER


def size_of(shape: Shape, scale: float) -> tuple[int, int]:
    """Return width and height of a video of this shape, both even."""
    width, height = SIZES[shape]
    return 2 * round(width * scale / 2), 2 * round(height * scale / 2)


def paper_planes(size: tuple[int, int]) -> Planes:
    """Return a frame of plain paper."""
    picture = np.empty((size[1], size[0], 3), np.uint8)
    picture[:] = tuple(bytes.fromhex(PAPER[1:]))
    return planes_of_rgb(picture)


def set_anew(frames: Iterable[Planes], shape: Shape, scale: float) -> Iterator[Planes]:
    """Yield wide frames as frames of `shape`. The array is the same each time."""
    size = size_of(shape, scale)
    wide = size_of(Shape.WIDE, scale)
    canvas = paper_planes(size)
    for frame in frames:
        for setting in SETTINGS[shape]:
            _set(frame, wide, setting, canvas, size, scale)
        yield canvas


def _set(
    frame: Planes,
    wide: tuple[int, int],
    setting: Setting,
    canvas: Planes,
    size: tuple[int, int],
    scale: float,
) -> None:
    part, box = _scaled(setting.part, scale), _scaled(setting.box, scale)
    cut = [
        plane[part.y // n : (part.y + part.height) // n, part.x // n : (part.x + part.width) // n]
        for plane, n in zip(split(frame, wide), (1, 2, 2), strict=True)
    ]
    if part[2:] != box[2:]:
        sizes = [(box.width // n, box.height // n) for n in (1, 2, 2)]
        cut = [
            np.asarray(cv2.resize(plane, to, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
            for plane, to in zip(cut, sizes, strict=True)
        ]
    whole = joined((cut[0], cut[1], cut[2]))
    lay(whole, (box.width, box.height), canvas, size, (box.x, box.y))


def _scaled(box: Box, scale: float) -> Box:
    x, y, width, height = (2 * round(v * scale / 2) for v in box)
    return Box(x, y, width, height)
