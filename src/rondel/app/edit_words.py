"""An edit in words: what is to be done, to which passage, and how far, as typed or picked."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction

from rondel.model.errors import BadInput
from rondel.model.time import as_minutes
from rondel.model.words import Side
from rondel.planner import edits
from rondel.planner.edits import Edit

_CLOCK = re.compile(r"([0-9]{1,4}):([0-5][0-9])")


def is_clock(word: str) -> bool:
    """True for minutes and seconds, as in 9:30."""
    return _CLOCK.fullmatch(word) is not None


def edit_of(what: str, passage: str, to: str | None) -> Edit:
    """Return the edit in the words typed; BadInput where they are not usable."""
    makers: dict[str, Callable[[], Edit]] = {
        "lengthen": lambda: edits.Lengthen(passage=passage, seconds=_seconds(to)),
        "shorten": lambda: edits.Shorten(passage=passage, seconds=_seconds(to)),
        "move": lambda: edits.Move(
            passage=passage, to_seconds=seconds_of(_needed(to, "when to start, as in 9:30"))
        ),
        "swap": lambda: edits.Swap(
            passage=passage,
            technique=_needed(to, "which technique; `rondel techniques` lists them"),
        ),
        "side": lambda: edits.Begin(
            passage=passage, side=None if to is None else Side(_one_of(to, ("left", "right")))
        ),
        "pressure": lambda: edits.Press(
            passage=passage,
            pressure=int(_one_of(_needed(to, "the pressure, 0 to 5"), tuple("012345"))),
        ),
        "keep": lambda: edits.Insist(passage=passage),
        "free": lambda: edits.Free(passage=passage),
        "open": lambda: edits.LeaveOpen(passage=passage),
    }
    if what in ("keep", "free", "open") and to is not None:
        raise BadInput("nothing is to follow here", at=to)
    return makers[what]()


def word_of(edit: Edit) -> str | None:
    """Return how far `edit` goes, as it is typed after what is to be done; None for nothing."""
    match edit:
        case edits.Lengthen(seconds=Fraction() as seconds):
            return f"{float(seconds):g}"
        case edits.Shorten(seconds=Fraction() as seconds):
            return f"{float(seconds):g}"
        case edits.Move(to_seconds=start):
            return as_minutes(float(start))
        case edits.Swap(technique=id):
            return id
        case edits.Press(pressure=pressure):
            return str(pressure)
        case edits.Begin(side=Side() as side):
            return str(side)
    return None


def seconds_of(word: str) -> Fraction:
    """Return the seconds of a time in minutes and seconds; BadInput for anything else."""
    match = _CLOCK.fullmatch(word)
    if match is None:
        raise BadInput("a time in minutes and seconds is expected, as in 9:30", at=word[:40])
    return Fraction(60 * int(match[1]) + int(match[2]))


def _seconds(word: str | None) -> Fraction | None:
    if word is None:
        return None
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,9})?", word) or not 0 < Fraction(word) <= 600:
        raise BadInput("a number of seconds is expected, up to 600", at=word[:40])
    return Fraction(word)


def _needed(word: str | None, says: str) -> str:
    if word is None:
        raise BadInput(f"say {says}", at="TO")
    return word


def _one_of(word: str, allowed: tuple[str, ...]) -> str:
    if word not in allowed:
        raise BadInput(f"one of {', '.join(allowed)} is expected", at=word)
    return word
