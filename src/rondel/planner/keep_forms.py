"""The shapes that something insisted on could have: pressure, and bars with its rest and sides."""

from __future__ import annotations

from dataclasses import dataclass

from rondel.model.brief import Keep
from rondel.model.repertoire import Technique
from rondel.model.words import DEEP, Position
from rondel.planner.case import Case
from rondel.planner.constraints import close, keep, limits, load, opening, reach, rest, strokes
from rondel.planner.constraints import range as taught


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A kept passage at one pressure. `bars` is one side of it, `least` the whole block with the
    rest that deep work needs, on every side."""

    pressure: int
    bars: int
    least: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Something insisted on, with every form that it could have; `number` is its place in the
    brief, `window` the first and last bar at which it may start (None: anywhere)."""

    number: int
    keep: Keep
    technique: Technique
    forms: tuple[Form, ...]
    window: tuple[int, int] | None
    positions: tuple[Position, ...]

    @property
    def wish(self) -> str:
        return f"keep {self.number}"

    @property
    def least(self) -> int:
        return min(form.least for form in self.forms)

    @property
    def is_bridge(self) -> bool:
        """True where the hands may come to it from anywhere, and leave it for anywhere."""
        return any(reach.frees(self.technique, form.pressure) for form in self.forms)

    def arrives(self, form: Form) -> bool:
        """True where it could itself be the first passage."""
        return (
            not self.technique.lateral
            and opening.allows(self.technique.family, form.pressure)
            and (self.window is None or self.window[0] == 0)
        )

    def ends(self, form: Form) -> bool:
        """True where it could itself be the last passage, its time apart."""
        return not self.technique.lateral and close.may_end(self.technique.family, form.pressure)


def wanted_of(number: int, case: Case) -> Wanted:
    """Return keep `number` of the brief with its forms; none where nothing about it can be."""
    wanted, technique = case.brief.keep[number], case.kept(number)
    cap = limits.cap(technique, case.brief, case.craft)
    forms = [
        form
        for pressure in taught.pressures(technique, cap)
        if wanted.pressure in (None, pressure)
        for bars in side_bars(wanted, case)
        if (form := _form(technique, pressure, bars, case)) is not None
    ]
    return Wanted(
        number=number,
        keep=wanted,
        technique=technique,
        forms=tuple(forms),
        window=keep.start_window(wanted, case.frame),
        positions=taught.positions(technique, case.material.positions),
    )


def side_bars(wanted: Keep, case: Case) -> range:
    """Return how many bars a side it may last: as insisted on, else as long as any passage."""
    low, high = keep.bars_window(wanted, case.frame) or case.frame.ordinary
    return range(low, high + 1)


def _form(technique: Technique, pressure: int, bars: int, case: Case) -> Form | None:
    """Return the form of `bars` a side; None where no stroke fits them, or they are too deep."""
    if not strokes.choices(technique, case.frame, bars):
        return None
    rests = 0
    if pressure >= DEEP:
        if bars > load.most_bars(case.frame):
            return None
        rests = max(rest.least_bars(bars, case.frame.drift), case.frame.rest[0])
    both = 2 if technique.lateral else 1
    return Form(pressure=pressure, bars=bars, least=(bars + rests) * both)


def has_rest(technique: Technique, case: Case) -> bool:
    """True where something light on the same region and sides can answer deep work."""
    return any(
        other.region == technique.region
        and other.lateral == technique.lateral
        and any(p >= 1 and rest.allows(p) for p in case.material.pressures(i))
        and set(other.position) & set(technique.position)
        for i in case.material.ordinary()
        for other in (case.material.techniques[i],)
    )


def has_warming(technique: Technique, case: Case) -> bool:
    """True where something on the same region, at 1 to 3, can warm it."""
    return any(
        other.region == technique.region and any(1 <= p <= 3 for p in case.material.pressures(i))
        for i, other in enumerate(case.material.techniques)
    )
