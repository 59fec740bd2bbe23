"""What makes parts of a take hard to use: too dark, too bright, out of focus, shaken."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rondel.model.take import Fault, FaultSpan
from rondel.model.track import Span
from rondel.watching.moving import Moved, Seconds
from rondel.watching.spans import spans_of

LEAST_SECONDS = 1.0
DARK = 35.0  # of 255, the mean of a picture
GLARING = 0.2  # of a picture
BLURRED = 0.25  # of the take's usual sharpness
SHAKEN = 60.0  # pixels of a picture 320 wide that the camera moves in a second


def faults_of(moved: Moved, looks: NDArray[np.float32]) -> tuple[FaultSpan, ...]:
    """Return spans of at least a second that are hard to use, in order.

    `looks` (pictures, 3): brightness 0 to 255, share that glares, sharpness. The bounds are ours.
    """
    usual = float(np.median(looks[:, 2])) if len(looks) else 0.0
    found = [
        *_spans(looks[:, 0] < DARK, moved.frames, Fault.DARK),
        *_spans(looks[:, 1] > GLARING, moved.frames, Fault.GLARING),
        *_spans(looks[:, 2] < BLURRED * usual, moved.frames, Fault.BLURRED),
    ]
    if moved.lags and len(moved.lags[0].at):
        shortest = moved.lags[0]
        speed = np.hypot(shortest.camera[:, 0], shortest.camera[:, 1])
        found += _spans(speed > SHAKEN, shortest.at, Fault.SHAKEN)
    return tuple(sorted(found, key=lambda f: (f.span.start, f.fault)))


def _spans(flags: NDArray[np.bool_], at: Seconds, fault: Fault) -> list[FaultSpan]:
    return [
        FaultSpan(span=Span(start=max(0.0, start), end=end), fault=fault)
        for start, end in spans_of(flags, at, LEAST_SECONDS)
    ]
