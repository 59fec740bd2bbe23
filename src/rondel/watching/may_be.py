"""Which techniques hands may be at, by how they move and how fast: a suggestion, and no more.

Many techniques move alike, so that the teacher names what was filmed; this shortens the list.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import log

from rondel.model.repertoire import Technique
from rondel.model.take import MotionKind, SeenStretch
from rondel.model.words import Family, Landing, Side, Trace

#: What a stroke's shape looks like to a camera, and how unlike its usual look that is: mirrored
#: hands move together along the back and opposite ways across it.
_SHAPES: dict[MotionKind, dict[Trace, float]] = {
    MotionKind.GLIDE: {Trace.ALONG: 0.0, Trace.ACROSS: 0.0, Trace.OUTWARD: 0.3},
    MotionKind.CIRCLE: {Trace.CIRCLE: 0.0},
    MotionKind.ALTERNATE: {Trace.ALTERNATE: 0.0, Trace.OUTWARD: 0.3, Trace.ACROSS: 0.6},
    MotionKind.PRESS: {Trace.SPOT: 0.0},
}
#: Hands that go to and fro land at both ends of their way: two landings may be one stroke.
_LANDINGS_A_STROKE = {
    MotionKind.GLIDE: (1, 2),
    MotionKind.CIRCLE: (1,),
    MotionKind.ALTERNATE: (1, 2),
    MotionKind.PRESS: (1,),
}
#: Families whose strokes do not move hands in a way that is seen again and again.
_STILL = (Family.HOLDING, Family.VIBRATION, Family.EMBRACE)
#: Film is played at 0.6 to 1.4 of its speed, so hands may be so many times too quick or too slow.
_MOST_OFF = 1.4
_OFF_COSTS = 4.0


def may_be(
    stretch: SeenStretch, techniques: Iterable[Technique], side: Side | None = None
) -> tuple[Technique, ...]:
    """Return what of `techniques` hands may be at in `stretch`, the likeliest first.

    `side`: the side that the take shows, where the teacher has named it.
    """
    found = []
    for technique in techniques:
        off = _unlike(stretch, technique)
        is_elsewhere = side is not None and side.is_one_sided and not technique.lateral
        if off is not None and not is_elsewhere:
            found.append((off, technique.id, technique))
    return tuple(technique for _, _, technique in sorted(found, key=lambda one: one[:2]))


def _unlike(stretch: SeenStretch, technique: Technique) -> float | None:
    """Return how unlike `technique` a stretch is, 0 for just like it; None for another motion."""
    shape = _SHAPES[stretch.kind].get(technique.trace)
    if shape is None or stretch.period <= 0 or technique.family in _STILL:
        return None
    if stretch.kind is MotionKind.PRESS and technique.landing is not Landing.DEEPEST:
        return None
    paces = (
        _off_pace(count * stretch.period, technique) for count in _LANDINGS_A_STROKE[stretch.kind]
    )
    told = [pace for pace in paces if pace is not None]
    return shape + min(told) if told else None


def _off_pace(seconds: float, technique: Technique) -> float | None:
    """Return how far a stroke of `seconds` is from the middle of what is taught, in halves of
    its range, and far more outside it; None where it is too far outside to be shown."""
    fast, slow = (log(float(one)) for one in technique.cycle_seconds)
    pace = log(seconds)
    outside = max(fast - pace, pace - slow, 0.0)
    if outside > log(_MOST_OFF):
        return None
    return abs(pace - (fast + slow) / 2) / max((slow - fast) / 2, 0.1) + _OFF_COSTS * outside
