"""Where a row of beats is told, and yet too little of it is certain to rely on.

The network tells noise, waves, rain and bowls struck at random from held tones: something does
happen there. That it does not happen in time shows only in how little certain any beat is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rondel.listening.network import Impression
from rondel.listening.pulse import Frames
from rondel.model.stretches import joined
from rondel.model.track import Span

Floats = NDArray[np.float64]

#: Below this confidence nobody can tell whether there is a beat at all. Of the tuning parts, 48
#: sounds in which nothing beats reach .30 at most, 57 tracks with a beat .44 at least.
LEAST_CONFIDENCE = 0.36
#: … and within so many seconds, below this: the ends of tracks with a beat come down to .35.
LEAST_AROUND, AROUND_SECONDS = 0.30, 30.0
#: Shorter stretches in doubt are part of what is around them.
LEAST_SECONDS = 10.0


def certainty(impression: Impression, frames: Frames) -> tuple[Floats, Floats]:
    """Return, for a beat on each frame, how certain the network is of it, and whether it hears
    anything beat there; a frame early or late counts as met."""
    inside = np.clip(frames, 1, max(1, len(impression.beat) - 2))
    said = np.stack([impression.beat[inside + k] for k in (-1, 0, 1)]).max(axis=0)
    heard = impression.heard[inside]
    return said.astype(np.float64), heard.astype(np.float64)


def confidence(said: Floats, heard: Floats) -> float:
    """Return how sure the beats are, 0 to 1: what is said of them, where anything beats."""
    if heard.sum() < 1:
        return 0.0
    return float((said * heard).sum() / heard.sum() * min(1.0, heard.sum() / 8))


def doubtful_spans(beats: Floats, said: Floats, heard: Floats, seconds: float) -> tuple[Span, ...]:
    """Return the spans of a track of `seconds` in which it is not sure that there is a beat.

    `beats` in seconds, each with what `certainty` says of it. All of the track where the beats
    are not sure on the whole.
    """
    if len(beats) < 2:
        return ()
    if confidence(said, heard) < LEAST_CONFIDENCE:
        return (Span(start=0.0, end=seconds),)
    count = max(1, round(AROUND_SECONDS / float(np.median(np.diff(beats)))))
    if count >= len(beats):
        return ()
    window = np.ones(count)
    around = np.convolve(said * heard, window, "same")
    around /= np.maximum(np.convolve(heard, window, "same"), 1e-9)
    middles = (beats[:-1] + beats[1:]) / 2
    edges = np.concatenate([[0.0], middles, [seconds]])
    low = np.flatnonzero(around < LEAST_AROUND)
    spans = joined(
        Span(start=float(edges[k]), end=float(edges[k + 1])) for k in low if edges[k] < edges[k + 1]
    )
    return tuple(span for span in spans if span.seconds >= LEAST_SECONDS)
