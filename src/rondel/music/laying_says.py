"""What was done to a track to fit a routine, in sentences for the teacher."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from rondel.model.brief import Brief
from rondel.model.time import as_minutes
from rondel.model.track import Course, Heard, Piece

#: Differences below so many seconds are not worth a sentence.
_SLIGHT_SECONDS = 5.0

#: A shorter track comes round so often that a teacher should know.
_SHORT_TRACK_SECONDS = 180.0

#: From so little confidence on, the teacher should listen herself (of 0 to 1).
_DOUBT = 0.3


def laying_says(heard: Heard, brief: Brief, course: Course, total: float) -> tuple[str, ...]:
    """Return what was done to the track; `total` is how long the session lasts, in seconds."""
    return tuple(_says(heard, brief, course, total))


def _says(heard: Heard, brief: Brief, course: Course, total: float) -> Iterator[str]:
    if heard.beats and 0 < heard.confidence < _DOUBT:
        yield "Rondel is not sure of this track's beat; `rondel listen` shows what it heard."
    off = heard.seconds - float(brief.minutes * 60)
    if abs(off) > _SLIGHT_SECONDS:
        how = "longer" if off > 0 else "shorter"
        yield f"The track is {as_minutes(abs(off))} {how} than the brief asks for."
    for before, piece in pairwise(course.pieces):
        yield _seam_says(before, piece)
    if course.fade_seconds:
        begins = as_minutes(total - course.fade_seconds)
        yield f"It fades out from {begins} of the session on, to end with the routine."
    if course.tail_from is not None:
        lasts = round(total - course.tail_from)
        yield (
            f"The track is over at {as_minutes(course.tail_from)}; a composed tail of {lasts} "
            "seconds carries the close."
        )
    rounds = sum(piece.source.seconds for piece in course.pieces) / heard.seconds
    if heard.seconds < _SHORT_TRACK_SECONDS and rounds >= 2:
        yield (
            f"The track lasts {as_minutes(heard.seconds)} only, so it comes round about "
            f"{round(rounds)} times; a longer one would tire less."
        )


def _seam_says(before: Piece, piece: Piece) -> str:
    """Return what happens between two pieces: a stretch comes again, or is passed over."""
    left, entered = before.source.end, piece.source.start
    at = as_minutes(piece.at)
    if entered < left:
        return (
            f"At {at} of the session its stretch from {as_minutes(entered)} to {as_minutes(left)} "
            "is played again."
        )
    return (
        f"At {at} of the session its stretch from {as_minutes(left)} to {as_minutes(entered)} is "
        "left out."
    )
