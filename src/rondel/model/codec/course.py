"""The course of a brought track inside routine.json, under `music`."""

from __future__ import annotations

from rondel.model.codec.fields import Fields
from rondel.model.track import Course, Piece, Span


def course_to_dict(course: Course) -> dict[str, object]:
    """Return `course` as routine.json holds it; spans are pairs, `strongest` a pair of bars."""
    return {
        "heard": list(course.heard),
        "energy": list(course.energy),
        "phrases": list(course.phrases),
        "turns": list(course.turns),
        "homes": list(course.homes),
        "strongest": list(course.strongest),
        "stands_out": course.stands_out,
        "pieces": [
            {"source": [piece.source.start, piece.source.end], "at": piece.at}
            for piece in course.pieces
        ],
        "tail_from": course.tail_from,
        "fade_seconds": course.fade_seconds,
        "quiet_seconds": course.quiet_seconds,
        "track_seconds": course.track_seconds,
    }


def course_from_dict(data: object, *, at: str = "course") -> Course:
    """Return the course that `data` holds; BadInput naming the key. Unknown keys are left alone."""
    f = Fields(data, at=at)
    tail = f.raw("tail_from")
    lasts = f.raw("track_seconds")
    strongest = f.wholes("strongest", low=0)
    if len(strongest) != 2:
        raise f.fail("strongest", "must be two bars in brackets: the first, and the one past it")
    return f.build(
        lambda: Course(
            heard=f.flags("heard"),
            energy=f.numbers("energy", low=0, high=1),
            phrases=f.wholes("phrases", low=0),
            turns=f.wholes("turns", low=0),
            homes=f.wholes("homes", low=0),
            strongest=(strongest[0], strongest[1]),
            stands_out=f.flag("stands_out", False),
            pieces=tuple(_piece(p) for p in f.tables("pieces")),
            tail_from=None if tail is None else float(f.number("tail_from", low=0)),
            fade_seconds=float(f.number("fade_seconds", 0, low=0)),
            quiet_seconds=float(f.number("quiet_seconds", 0, low=0)),
            track_seconds=None if lasts is None else float(f.number("track_seconds", low=0)),
        )
    )


def _piece(f: Fields) -> Piece:
    start, end = f.pair("source")
    return f.build(
        lambda: Piece(
            source=Span(start=float(start), end=float(end)), at=float(f.number("at", low=0))
        )
    )
