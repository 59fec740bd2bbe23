"""Passages that lead from one row of a track's phrases to another.

Passages are made of whole phrases. Where a section of the track is not, the phrases after it begin
a bar or more astray of those before, and so would every passage from there on. A bridge is a
passage of work, longer or shorter than whole phrases by just that, from a phrase before to one
after.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rondel.planner.frame import Frame

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


def bridge_bars(frame: Frame, most: int) -> tuple[int, ...]:
    """Return the lengths up to `most` bars, not of whole phrases, that some phrase of the track is
    away from another; none where the music is composed, or where no passage is a whole phrase."""
    least = frame.ordinary[0]
    if frame.laid is None or not any(b % frame.step == 0 for b in range(least, most + 1)):
        return ()
    phrases = frame.laid.course.phrases
    apart = {past - first for first in phrases for past in phrases}
    return tuple(b for b in range(least, most + 1) if b % frame.step and b in apart)


def off_bridge(frame: Frame, starts: Ints | np.int64, bars: Ints, is_work: Bools) -> Bools:
    """Return which passages of so many `bars`, begun at `starts`, would be bridges that do not lead
    from phrase to phrase. `is_work`: which are ordinary work that nobody insists on."""
    is_bridge = is_work & (bars % frame.step > 0)
    if frame.laid is None or not is_bridge.any():
        return np.zeros(np.broadcast(starts, bars).shape, dtype=bool)
    off = np.ones(frame.bars + 1, dtype=bool)
    off[[bar for bar in frame.laid.course.phrases if bar <= frame.bars]] = False
    ends = np.minimum(starts + bars, frame.bars)
    return np.asarray(is_bridge & (off[starts] | off[ends]))
