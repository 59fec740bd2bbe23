"""How a session is to be made, as its form says it; kept beside the routine for the next time."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from functools import partial
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
#: What is a number, by its name in the form.
NUMBERS = ("slowest", "fastest", "shortest")
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """The fields of the form, as they are shown: what is kept, or what she typed.

    `words`: what stands in a field; `troubles`: why what stands there will not do, by field.
    """

    shapes: tuple[str, ...]
    yes: tuple[str, ...]
    words: Mapping[str, str]
    troubles: Mapping[str, str] = field(default_factory=dict)


def filled(making: Making) -> Filled:
    """Return the form as it is filled in from `making`."""
    numbers = {name: f"{getattr(making, name):g}" for name in NUMBERS}
    words = {"loudness": making.loudness, **numbers}
    return Filled(shapes=making.shapes, yes=making.yes, words=words)


def typed_in(ask: Ask) -> Filled | None:
    """Return the form of the leaf as she sent it; None where it was not sent along."""
    if not ask.word("making"):
        return None
    words = {name: ask.word(name) for name in ("loudness", *NUMBERS)}
    shapes, yes = ask.words("shape"), ask.words("yes")
    troubles = _troubles({**words, "shapes": shapes})
    return Filled(shapes=shapes, yes=yes, words=words, troubles=troubles)


def made_of(data: Mapping[str, object]) -> Making:
    """Return what `data` wishes; BadInput for what cannot be."""
    for says in _troubles(data).values():
        raise BadInput(says, at="how it is made")
    return Making(
        shapes=_shapes(data),
        loudness=_loudness(data),
        slowest=_number(data, "slowest"),
        fastest=_number(data, "fastest"),
        shortest=_number(data, "shortest"),
        yes=tuple(name for name in YES_OR_NO if name in _row(data, "yes")),
    )


def asked_in(form: Filled) -> Making:
    """Return what the form wishes; BadInput for what cannot be."""
    return made_of({**form.words, "shapes": form.shapes, "yes": form.yes})


def _troubles(data: Mapping[str, object]) -> dict[str, str]:
    """Return why what is wished cannot be, by the field that it is about."""
    found: dict[str, str] = {}

    def will_do(name: str, read: Callable[[], object]) -> bool:
        try:
            read()
        except BadInput as error:
            found[name] = error.says
        return name not in found

    will_do("shape", lambda: _shapes(data))
    will_do("loudness", lambda: _loudness(data))
    read = {
        name: _number(data, name) for name in NUMBERS if will_do(name, partial(_number, data, name))
    }
    fit = {n: v for n, v in read.items() if will_do(n, partial(_limits_of, {n: v}))}
    if "slowest" in fit and "fastest" in fit:  # which may not be the same
        will_do("fastest", partial(_limits_of, fit))
    return found


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


def _limits_of(numbers: Mapping[str, float]) -> Limits:
    """Return how takes may be used with these numbers, and else as usual."""
    usual = Making()
    return replace(
        usual,
        slowest=numbers.get("slowest", usual.slowest),
        fastest=numbers.get("fastest", usual.fastest),
        shortest=numbers.get("shortest", usual.shortest),
    ).limits


def _shapes(data: Mapping[str, object]) -> tuple[str, ...]:
    names = [str(name) for name in _row(data, "shapes")]
    shapes = tuple(str(shape) for shape in Shape if str(shape) in names)
    if not shapes:
        raise BadInput("choose at least one shape of the video", at="how it is made")
    return shapes


def _loudness(data: Mapping[str, object]) -> str:
    return loudness_target(str(data.get("loudness", SESSION.name))).name


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
