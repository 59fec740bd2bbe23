"""How a session is to be made, as its form says it; kept beside the routine for the next time."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rondel.adapters.atomic import write_text
from rondel.drawing.frames.shapes import Shape
from rondel.fitting.asked import limits_asked
from rondel.fitting.choosing import Limits
from rondel.model.errors import BadInput, RondelError
from rondel.music.loudness_targets import SESSION, loudness_target

if TYPE_CHECKING:
    from rondel.desk.asking import Ask  # which a worker, who reads this too, has no use for

#: Where it is kept, beside the routine.
MAKING = "making.json"
#: What is either wished or not, by its name in the form.
YES_OR_NO = ("marks", "fills", "sound", "drawn", "mirrors", "slips")
USUAL = Limits()


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """What is wished of sound and picture. `yes`: those of YES_OR_NO that are wished."""

    shapes: tuple[str, ...] = (str(Shape.WIDE),)
    loudness: str = SESSION.name
    slowest: float = USUAL.slowest
    fastest: float = USUAL.fastest
    shortest: float = USUAL.shortest_shot
    yes: tuple[str, ...] = ()

    @property
    def limits(self) -> Limits:
        """How takes may be used; BadInput for what cannot be."""
        return limits_asked(
            (self.slowest, self.fastest),
            self.shortest,
            mirrors="mirrors" in self.yes,
            shows_slips="slips" in self.yes,
            names=("the speeds", "the shortest shot"),
        )


def made_of(data: Mapping[str, object]) -> Making:
    """Return what `data` wishes; BadInput for what cannot be."""
    names = [str(name) for name in _row(data, "shapes")]
    shapes = tuple(str(shape) for shape in Shape if str(shape) in names)
    if not shapes:
        raise BadInput("choose at least one shape of the video", at="how it is made")
    making = Making(
        shapes=shapes,
        loudness=loudness_target(str(data.get("loudness", SESSION.name))).name,
        slowest=_number(data, "slowest"),
        fastest=_number(data, "fastest"),
        shortest=_number(data, "shortest"),
        yes=tuple(name for name in YES_OR_NO if name in _row(data, "yes")),
    )
    _ = making.limits  # which refuses what cannot be
    return making


def asked_in(ask: Ask) -> Making | None:
    """Return what the form of the leaf wishes; None where it was not sent along."""
    if not ask.word("making"):
        return None
    words = {name: ask.word(name) for name in ("loudness", "slowest", "fastest", "shortest")}
    return made_of({**words, "shapes": ask.words("shape"), "yes": ask.words("yes")})


def kept_in(folder: Path) -> Making:
    """Return what was wished the last time; what is usual where that cannot be read."""
    try:
        data = json.loads((folder / MAKING).read_text("utf-8"))
        return made_of(data) if isinstance(data, dict) else Making()
    except (OSError, ValueError, RondelError):
        return Making()


def keep(folder: Path, making: Making) -> None:
    """Keep what is wished. OutsideFailure where nothing can be written."""
    write_text(folder / MAKING, json.dumps(asdict(making), indent=1) + "\n")


def _row(data: Mapping[str, object], name: str) -> tuple[object, ...]:
    row = data.get(name, ())
    return tuple(row) if isinstance(row, list | tuple) else ()


def _number(data: Mapping[str, object], name: str) -> float:
    words = str(data.get(name, "")).strip().replace(",", ".")
    try:
        number = float(words)
    except ValueError:
        says = f"“{words[:20]}” is no number; write one as in 1.4"
        raise BadInput(says, at="how it is made") from None
    if number != number:
        raise BadInput("“nan” is no number; write one as in 1.4", at="how it is made")
    return number
