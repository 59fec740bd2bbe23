"""Why an edit cannot be: arithmetic on one passage, in sentences that say what to do instead."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from rondel.model.repertoire import Craft, Technique
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.planner.constraints import close, limits, opening, rest, strokes
from rondel.planner.constraints import range as taught
from rondel.planner.frame import Frame
from rondel.rules.close import MAX_PRESSURE as CLOSE_PRESSURE
from rondel.rules.close import SECONDS as CLOSE_SECONDS
from rondel.rules.opening import MAX_PRESSURE as OPENING_PRESSURE
from rondel.rules.opening import SECONDS as OPENING_SECONDS


def unknown_passage(id: str, ids: list[str]) -> str:
    return f'There is no passage "{id}" in this routine; they are called {ids[0]} to {ids[-1]}.'


def unknown_technique(id: str, craft: Craft) -> str:
    ids = [t.id for t in craft.techniques if not t.helps_turn]
    hint = _closest(id, ids) or "; `rondel techniques` lists what is."
    return f'"{id}" is not in the repertoire{hint}'


def _closest(word: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.5)
    return f'. Did you mean "{near[0]}"?' if near else ""


def bars_allowed(frame: Frame, role: Role) -> tuple[int, int]:
    """Return the fewest and the most bars of a passage (of a pair, on each side)."""
    if role is Role.ARRIVE:
        return frame.arrival
    if role is Role.CLOSE:
        return frame.closing
    return frame.ordinary


def fitting_bars(
    technique: Technique, frame: Frame, wanted: int, bounds: tuple[int, int]
) -> int | None:
    """Return the bars nearest to `wanted`, within `bounds`, that whole strokes fill; or None."""
    low, high = bounds
    able = [b for b in range(low, high + 1) if strokes.choices(technique, frame, b)]
    return min(able, key=lambda bars: (abs(bars - wanted), bars)) if able else None


def pressures_of(technique: Technique, frame: Frame, craft: Craft) -> tuple[int, ...]:
    """Return the pressures at which this couple may do it."""
    return taught.pressures(technique, limits.cap(technique, frame.brief, craft))


def pressure_reason(technique: Technique, pressure: int, frame: Frame, craft: Craft) -> str | None:
    """Return why the technique cannot have this pressure."""
    able = pressures_of(technique, frame, craft)
    if pressure in able or not able:
        return None
    low, high = technique.pressure
    span = str(low) if low == high else f"{low} to {high}"
    says = f"{technique.plain} is taught at pressure {span}"
    if low <= pressure <= high:
        says += f", and here no more than {able[-1]} is safe"
    choose = "that is all there is" if len(able) == 1 else f"choose {_or(able)}"
    return f"{says}; {choose}."


def _or(numbers: tuple[int, ...]) -> str:
    return f"{', '.join(map(str, numbers[:-1]))} or {numbers[-1]}"


def place_reason(
    technique: Technique, frame: Frame, craft: Craft, start: int, end: int
) -> str | None:
    """Return why the technique cannot stand from bar `start` up to `end`: opening or close."""
    able = pressures_of(technique, frame, craft)
    if not able:
        return None
    if start < opening.first_free_bar(frame) and not opening.allows(technique.family, able[0]):
        return (
            f"Until {opening_ends(frame)} only glides, holds and "
            f"embraces come, at pressure {OPENING_PRESSURE} or less, and "
            f"{technique.plain} is none of them; choose a later place."
        )
    if end > close.last_free_bar(frame) and not close.allows(able[0]):
        return (
            f"From {close_begins(frame)} on all stays at pressure "
            f"{CLOSE_PRESSURE} or less, and {technique.plain} begins at {able[0]}; choose an "
            "earlier place."
        )
    is_last = end >= frame.bars
    if is_last and (technique.lateral or not close.may_end(technique.family, able[0])):
        return (
            f"The routine ends with a glide, a hold or an embrace for both sides at once, and "
            f"{technique.plain} is none."
        )
    return None


def rest_bars(frame: Frame, bars: int) -> int:
    """Return the fewest bars that rest after `bars` of deep work must have on one side."""
    return max(rest.least_bars(bars, frame.drift), frame.rest[0])


def opening_ends(frame: Frame) -> str:
    """Return when the quiet opening ends, as m:ss."""
    return as_minutes(float(OPENING_SECONDS * frame.scale))


def close_begins(frame: Frame) -> str:
    """Return when the soft close begins, as m:ss."""
    return as_minutes(float(frame.total_seconds - CLOSE_SECONDS * frame.scale))


def seconds_says(frame: Frame, bars: int) -> str:
    """Return the length of `bars` in words."""
    seconds = float(bars * frame.bar_seconds)
    return f"{seconds:.0f} seconds" if seconds < 120.5 else f"{as_minutes(seconds)} minutes"


def length_reason(technique: Technique, now: int, bounds: tuple[int, int], frame: Frame) -> str:
    """Return why a passage of `now` bars cannot have the length asked for."""
    each = " on each side" if technique.lateral else ""
    low, high = (seconds_says(frame, bars) for bars in bounds)
    if technique.family.is_held:
        least, most = technique.cycle_seconds
        return (
            f"{technique.plain} lasts {seconds_says(frame, now)} here. It is one hold of "
            f"{float(least):g} to {float(most):g} seconds, and such a passage lasts {low} to "
            f"{high}; no length of whole bars is left."
        )
    return (
        f"{technique.plain} lasts {seconds_says(frame, now)}{each} here, and such a passage lasts "
        f"from {low} to {high}{each}."
    )
