"""What moves in a drawn take, as the children of `take_files` find it."""

from __future__ import annotations

import time

import cv2
import numpy as np

from rondel.adapters.motion_flow import FlowStream, evened, outlines
from rondel.watching.moving import EVERY, LAGS, Moved, Moving, Outlines
from take_scenes import TakeScene, frames


def moved_in(scene: TakeScene) -> tuple[Moved, float]:
    """Return what moves, and the milliseconds a frame of finding it on one thread."""
    cv2.setNumThreads(1)
    stream, spent = FlowStream(), 0.0
    seconds: list[float] = []
    lines: list[tuple[float, np.ndarray]] = []
    rows: list[list[tuple[float, np.ndarray, np.ndarray]]] = [[] for _ in LAGS]
    for second, picture in frames(scene):
        began = time.process_time()
        seen = evened(picture)
        steps = stream.feed(seen)
        if len(seconds) % EVERY[-1] == 0:
            lines.append((second, outlines(seen)))
        spent += time.process_time() - began
        seconds.append(second)
        for lag, step, kept in zip(LAGS, steps, rows, strict=True):
            if step is not None:
                lasts = (seconds[-1] - seconds[-1 - lag]) / lag
                middle = (seconds[-1] + seconds[-1 - lag]) / 2
                kept.append((middle, step.cells / lasts, np.array(step.camera) / lasts))
    lags = tuple(
        Moving(
            lag=lag,
            at=np.array([one[0] for one in kept]),
            cells=np.array([one[1] for one in kept], dtype=np.float32),
            camera=np.array([one[2] for one in kept], dtype=np.float32),
        )
        for lag, kept in zip(LAGS, rows, strict=True)
    )
    told = Outlines(
        at=np.array([one[0] for one in lines]), cells=np.array([one[1] for one in lines])
    )
    return Moved(frames=np.array(seconds), lags=lags, outlines=told), 1000 * spent / len(seconds)
