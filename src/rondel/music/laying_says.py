"""What was done to a track to fit a routine, in sentences for the teacher."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from rondel.model.brief import Brief
from rondel.model.time import as_minutes
from rondel.model.track import Course, Heard, Piece

#: Differences below so many seconds are not worth a sentence.
_SLIGHT_SECONDS = 5.0

#: From so many seconds on, times of the session and of the track are seen to differ.
_HEARD_SECONDS = 0.5

#: A shorter track comes round so often that a teacher should know.
_SHORT_TRACK_SECONDS = 180.0

#: So many stretches that are played again are told one by one.
_MANY = 3

#: From so little confidence on, the teacher should listen herself (of 0 to 1).
_DOUBT = 0.3


def laying_says(heard: Heard, brief: Brief, course: Course, total: float) -> tuple[str, ...]:
    """Return what was done to the track; `total` is how long the session lasts, in seconds."""
    return tuple(_says(heard, brief, course, total))


def _says(heard: Heard, brief: Brief, course: Course, total: float) -> Iterator[str]:
    if heard.beats and not any(course.heard):
        yield (
            "No beat can surely be heard in this track, so the routine asks for nothing that needs "
            "one. If you hear one, say so: `rondel listen` shows how."
        )
    elif heard.beats and 0 < heard.confidence < _DOUBT:
        yield "Rondel is not sure of this track's beat; `rondel listen` shows what it heard."
    off = heard.seconds - float(brief.minutes * 60)
    if abs(off) > _SLIGHT_SECONDS:
        how = "longer" if off > 0 else "shorter"
        yield f"The track is {as_minutes(abs(off))} {how} than the brief asks for."
    starts_at = course.pieces[0].source.start if course.pieces else 0.0
    if starts_at >= _HEARD_SECONDS:
        yield (
            f"The session begins {starts_at:.1f} seconds into the track, with its first whole bar; "
            "times in a plan are those of the session."
        )
    yield from _seams_say(course.pieces)
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


def _seams_say(pieces: tuple[Piece, ...]) -> Iterator[str]:
    """Yield a sentence for every seam; of many that go back, one for all of them."""
    seams = list(pairwise(pieces))
    back = [(before, piece) for before, piece in seams if _goes_back(before, piece)]
    is_many = len(back) > _MANY
    for before, piece in seams:
        if not (is_many and _goes_back(before, piece)):
            yield _seam_says(before, piece)
        elif piece is back[0][1]:
            yield _many_say(back)


def _goes_back(before: Piece, piece: Piece) -> bool:
    return piece.source.start < before.source.end


def _many_say(back: list[tuple[Piece, Piece]]) -> str:
    """Return what is played again, and how often, in one sentence."""
    starts = [piece.source.start for _, piece in back]
    ends = [before.source.end for before, _ in back]
    first, last = (as_minutes(back[place][1].at) for place in (0, -1))
    is_one = max(max(starts) - min(starts), max(ends) - min(ends)) < _SLIGHT_SECONDS
    what = "Stretches of it are"
    if is_one:
        what = f"Its stretch from {as_minutes(min(starts))} to {as_minutes(max(ends))} is"
    return f"{what} played again {len(back)} times, from {first} to {last} of the session."


def _seam_says(before: Piece, piece: Piece) -> str:
    """Return what happens between two pieces: a stretch comes again, or is passed over."""
    left, entered = before.source.end, piece.source.start
    at = as_minutes(piece.at)
    if _goes_back(before, piece):
        return (
            f"At {at} of the session its stretch from {as_minutes(entered)} to {as_minutes(left)} "
            "is played again."
        )
    return (
        f"At {at} of the session its stretch from {as_minutes(left)} to {as_minutes(entered)} is "
        "left out."
    )
