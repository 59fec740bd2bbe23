"""How pictures move from one to the next: dense flow, freed of the camera, pooled into cells."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from rondel.watching.moving import CELLS_LONG, CELLS_SHORT, EVERY, LAGS

Grey = NDArray[np.uint8]
Plane = NDArray[np.float32]

#: Pictures are looked at this wide (or high, where they stand upright), in pixels.
LONG_SIDE = 320
#: The finest scale that flow is worked out at: half of the picture. The stock presets stop at a
#: quarter, which puts the turns of small circles 40 to 100 ms late (our study).
FINEST_SCALE = 1
#: To which every picture is evened, of 255.
_USUAL_LEVEL, _USUAL_CONTRAST = 120.0, 40.0
#: Texture that is as strong as noise counts half.
_PLAIN_TEXTURE = 40.0
_ROUNDS = 6  # of weighing what moves with the camera
#: Brighter than this, of an evened picture, is glare; it goes over softly.
_GLARE_LEVEL, _GLARE_SOFT = 215.0, 15.0
#: Where more of a picture than this glares, flow is worked out on its grain. In the pictures
#: of drawn tuning takes without oil at most 0.0008 glares, with it 0.002 and more.
_GLARING_SHARE = 0.0015
#: Grain is what is finer than this; of levels fainter than `_FAINT_GRAIN` little is made.
_GRAIN_PIXELS, _GRAIN_STRENGTH, _FAINT_GRAIN = 1.5, 30.0, 6.0
#: Outlines are what is finer than the second of these and not as fine as noise, in pixels.
_OUTLINE_PIXELS = (1.0, 2.5)
_TEXTURE_ENOUGH = 0.1  # more texture than this counts no more: hands have much, skin little
_TOO_SURE = 0.004  # pixels a frame; what moves with the camera is never known better than that


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """What moved between a picture and the one `lag` before it, in pixels of 320 a frame.

    `cells` (down, across, 2): mean flow across and down, the camera's taken
    off, times how well it can be told there (0 to 1).
    `camera`: its shift across and down, its growth and its turn.
    """

    cells: Plane
    camera: tuple[float, float, float, float]


class FlowStream:
    """Feed pictures one by one, as `evened` gives them; each gives its flow at every lag."""

    def __init__(self) -> None:
        self._flow = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_ULTRAFAST)
        self._flow.setFinestScale(FINEST_SCALE)
        self._past: deque[tuple[Grey, Grey | None]] = deque(maxlen=max(LAGS))
        self._grid: Plane | None = None
        self._count = 0

    def feed(self, seen: Grey) -> tuple[Step | None, ...]:
        """Return one step a lag; None where it is not looked at."""
        weight = _texture(seen)
        grain = _grain(seen) if _glares(seen) else None
        steps = tuple(
            self._step(*_alike(self._past[-lag], (seen, grain)), weight, lag)
            if len(self._past) >= lag and self._count % every == 0
            else None
            for lag, every in zip(LAGS, EVERY, strict=True)
        )
        self._past.append((seen, grain))
        self._count += 1
        return steps

    def _step(self, before: Grey, now: Grey, weight: Plane, lag: int) -> Step:
        flow = self._flow.calc(before, now, cast(Plane, None)) / lag
        height, width = now.shape
        if self._grid is None or self._grid.shape[:2] != (height // 8, width // 8):
            self._grid = _grid(height // 8, width // 8)
        size = (width // 8, height // 8)
        coarse_weight: Plane = np.asarray(
            cv2.resize(weight, size, interpolation=cv2.INTER_AREA), dtype=np.float32
        )
        coarse = cv2.resize(flow * weight[..., None], size, interpolation=cv2.INTER_AREA)
        coarse = np.asarray(coarse / np.maximum(coarse_weight, 1e-6)[..., None], dtype=np.float32)
        camera = _camera(np.asarray(coarse, dtype=np.float32), coarse_weight, self._grid)
        own = coarse - _moved(self._grid, camera)
        return Step(cells=_pooled(own * coarse_weight[..., None], (height, width)), camera=camera)


def _pooled(plane: Plane, shape: tuple[int, int]) -> Plane:
    """Return the mean of `plane` in each cell of a picture of `shape` (height, width)."""
    size = (CELLS_LONG, CELLS_SHORT) if shape[1] >= shape[0] else (CELLS_SHORT, CELLS_LONG)
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), dtype=np.float32)


def outlines(seen: Grey) -> Plane:
    """Return (down, across): how much there is in each cell of an evened picture that is fine."""
    level = seen.astype(np.float32)
    fine, soft = (cv2.GaussianBlur(level, (0, 0), pixels) for pixels in _OUTLINE_PIXELS)
    return _pooled(np.asarray(np.abs(fine - soft), dtype=np.float32), seen.shape)


def evened(picture: Grey) -> Grey:
    """Return `picture` (height, width) with its long side `LONG_SIDE`, and of even light."""
    height, width = picture.shape
    scale = LONG_SIDE / max(height, width)
    size = (8 * round(width * scale / 8), 8 * round(height * scale / 8))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    mean, spread = cv2.meanStdDev(small)
    gain = _USUAL_CONTRAST / max(float(spread[0, 0]), 1.0)
    even = (small - float(mean[0, 0])) * gain + _USUAL_LEVEL
    return np.asarray(np.clip(even, 0, 255), dtype=np.uint8)


def _glares(picture: Grey) -> bool:
    return float(np.count_nonzero(picture > _GLARE_LEVEL)) > _GLARING_SHARE * picture.size


def _alike(before: tuple[Grey, Grey | None], now: tuple[Grey, Grey | None]) -> tuple[Grey, Grey]:
    """Return two pictures, or their grain where either glares."""
    if before[1] is None and now[1] is None:
        return before[0], now[0]
    first, second = (_grain(seen) if grain is None else grain for seen, grain in (before, now))
    return first, second


def _grain(picture: Grey) -> Grey:
    """Return the grain of `picture`, everywhere about as strong: what light lays on it is gone.

    A spot of light is soft and moves by itself; pores, lines and edges are what hands take along.
    """
    level = picture.astype(np.float32)
    fine = level - cv2.GaussianBlur(level, (0, 0), _GRAIN_PIXELS)
    strength = np.sqrt(cv2.GaussianBlur(fine * fine, (0, 0), 2 * _GRAIN_PIXELS))
    even = fine * (_GRAIN_STRENGTH / (strength + _FAINT_GRAIN)) + 128
    return np.asarray(np.clip(even, 0, 255), dtype=np.uint8)


def _texture(picture: Grey) -> Plane:
    """Return how well flow can be told at each pixel, 0 to 1: from the smaller eigenvalue of the
    structure tensor (Shi & Tomasi 1994).

    What shines, as oil does, moves with the light and not with the hands: it does not count.
    """
    least = cv2.cornerMinEigenVal(picture, 7, ksize=3) * 255.0**2
    glare = cv2.dilate(picture, np.ones((9, 9), dtype=np.uint8)).astype(np.float32)
    dull = np.clip((_GLARE_LEVEL - glare) / _GLARE_SOFT, 0.0, 1.0)
    return np.asarray(dull * least / (least + _PLAIN_TEXTURE), dtype=np.float32)


def _grid(down: int, across: int) -> Plane:
    """Return (down, across, 2): where each cell lies from the middle, in cells."""
    x = np.arange(across) - (across - 1) / 2
    y = np.arange(down) - (down - 1) / 2
    return np.stack(np.meshgrid(x, y), axis=-1).astype(np.float32)


def _moved(grid: Plane, camera: tuple[float, float, float, float]) -> Plane:
    across, down, growth, turn = camera
    x, y = grid[..., 0], grid[..., 1]
    return np.stack([across + growth * x - turn * y, down + turn * x + growth * y], axis=-1).astype(
        np.float32
    )


def _camera(flow: Plane, weight: Plane, grid: Plane) -> tuple[float, float, float, float]:
    """Return the similarity that most of the picture follows: reweighted least squares."""
    x, y = grid[..., 0].ravel(), grid[..., 1].ravel()
    u, v = flow[..., 0].ravel(), flow[..., 1].ravel()
    ones, zeros = np.ones_like(x), np.zeros_like(x)
    design = np.concatenate(
        [np.stack([ones, zeros, x, -y], axis=1), np.stack([zeros, ones, y, x], axis=1)]
    )
    seen = np.concatenate([u, v])
    enough = np.minimum(weight.ravel(), _TEXTURE_ENOUGH) / _TEXTURE_ENOUGH
    base = np.concatenate([enough, enough])
    found = np.array([np.median(u), np.median(v), 0.0, 0.0])
    for _ in range(_ROUNDS):
        off = (seen - design @ found).reshape(2, -1)
        distance = np.hypot(off[0], off[1])
        scale = max(1.5 * float(np.median(distance)), _TOO_SURE)
        trust = 1 / (1 + (distance / scale) ** 2) ** 2
        weights = base * np.concatenate([trust, trust])
        weighted = design * weights[:, None]
        found = np.linalg.solve(weighted.T @ design + 1e-6 * np.eye(4), weighted.T @ seen)
    return float(found[0]), float(found[1]), float(found[2]), float(found[3])
