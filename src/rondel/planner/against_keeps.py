"""Why one thing insisted on cannot stand: what rules it out, and why its time is impossible."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from rondel.model.brief import Brief
from rondel.model.names import lying_says
from rondel.model.repertoire import Craft, Technique
from rondel.model.words import CONTACT_NAME, DEEP
from rondel.planner.case import Case, Reason, about, seconds_says, taking
from rondel.planner.constraints import (
    avoid,
    cautions,
    close,
    level,
    limits,
    load,
    opening,
    peak,
    range,
    spare,
)
from rondel.planner.keep_forms import Form, Wanted, has_rest, has_warming, side_bars, wanted_of
from rondel.planner.material import allowed_positions
from rondel.planner.naming import listed, place


def keep_reasons(number: int, case: Case) -> Iterator[Reason]:
    """Yield why keep `number` of the brief cannot stand, whatever else is asked for."""
    technique, wish = case.kept(number), f"keep {number}"
    says = f"You insist on {technique.plain}, but"
    ruled_out = _ruled_out(technique, case.brief, case.craft, says)
    if ruled_out:
        for reason, wishes in ruled_out:
            yield Reason(says=reason, wishes=about(wish, wishes))
        return
    unfit = list(_unfit(number, case, says))
    if unfit:
        yield from unfit
        return
    wanted = wanted_of(number, case)
    if not wanted.forms:
        yield _no_strokes(wanted, case, says)
        return
    yield from _deep_reasons(wanted, case, says)
    yield from _time_reasons(wanted, case)


def why_not(technique: Technique, brief: Brief, craft: Craft, says: str) -> list[str]:
    """Return what rules a technique out altogether, as sentences that begin with `says`."""
    return [reason for reason, _ in _ruled_out(technique, brief, craft, says)]


def _ruled_out(
    technique: Technique, brief: Brief, craft: Craft, says: str
) -> list[tuple[str, frozenset[str]]]:
    """Return what rules a technique out altogether, each with the wishes that do it."""
    region = place(craft.region(technique.region))
    above = technique.level - brief.level
    cap = limits.cap(technique, brief, craft)
    avoided = {
        f"avoid_regions {r}" for r in brief.avoid_regions if avoid.touches(technique, (r,), craft)
    }
    ways = listed(lying_says(p) for p in technique.position)
    tests: tuple[tuple[bool, str, set[str]], ...] = (
        (
            spare.allows(technique, brief),
            f"it uses the {CONTACT_NAME[technique.contact]}, which you spare.",
            {f"spare {technique.contact}"},
        ),
        (
            avoid.allows(technique, brief, craft),
            f"it meets {region}, or passes over a place that you avoid.",
            avoided,
        ),
        (cautions.allows(technique, brief, craft), "one of the cautions rules it out.", set()),
        (limits.allows(technique, craft), f"{region} does not bear {technique.family}.", set()),
        (
            bool(range.pressures(technique, cap)),
            f"it begins at pressure {technique.pressure[0]}, and here no more than {cap} is safe.",
            _level_if_it_limits(technique, cap, brief),
        ),
        (
            bool(range.positions(technique, allowed_positions(brief, craft))),
            f"it is done {ways}, which is not among the positions.",
            {"positions"} if brief.positions else set(),
        ),
        (
            above <= 0 or level.may_stretch(technique, brief),
            f"it is of level {technique.level} and the couple of level {brief.level}"
            + (
                ", and a passage above their level goes two levels above at most."
                if brief.stretch
                else ", and no stretch passage is allowed."
            ),
            {"level"} if brief.stretch else {"level", "stretch"},
        ),
    )
    return [(f"{says} {reason}", frozenset(wishes)) for holds, reason, wishes in tests if not holds]


def _level_if_it_limits(technique: Technique, cap: int, brief: Brief) -> set[str]:
    levels = limits.TRAINED_LEVEL_LIMITS if brief.trained else limits.LEVEL_LIMITS
    return {"level"} if levels[brief.level] == cap and brief.level < 5 else set()


def _unfit(number: int, case: Case, says: str) -> Iterator[Reason]:
    """Yield why its pressure or its side cannot be."""
    wanted, technique, wish = case.brief.keep[number], case.kept(number), f"keep {number}"
    cap = limits.cap(technique, case.brief, case.craft)
    low, high = technique.pressure
    if wanted.pressure is not None and not low <= wanted.pressure <= min(high, cap):
        wishes = _level_if_it_limits(technique, cap, case.brief)
        yield Reason(
            says=f"{says} at pressure {wanted.pressure}, while it is taught from {low} to {high} "
            f"and here no more than {cap} is safe.",
            wishes=about(wish, frozenset(wishes if wanted.pressure <= high else ())),
        )
    if wanted.side is not None and technique.lateral is not wanted.side.is_one_sided:
        has = "is done on each side" if technique.lateral else "is not done on one side"
        yield Reason(says=f"{says} on the side “{wanted.side}”, and it {has}.", wishes=about(wish))


def _no_strokes(wanted: Wanted, case: Case, says: str) -> Reason:
    """Return why it cannot be as long as it should."""
    bars = side_bars(wanted.keep, case)
    lasts = seconds_says((wanted.keep.minutes or Fraction(0)) * 60)
    wishes = about(wanted.wish, frozenset() if case.brief.bpm is None else about("bpm"))
    deepest = wanted.keep.pressure or wanted.technique.pressure[0]
    if deepest >= DEEP and bars.start > load.most_bars(case.frame):
        reason = f"{says} for {lasts}, and deep work goes on for two minutes at most."
        return Reason(says=reason, wishes=wishes)
    fast, slow = (float(s) for s in wanted.technique.cycle_seconds)
    if wanted.technique.family.is_held:
        reason = f"{says} for {lasts}, and it is held for {fast:g} to {slow:g} seconds."
    else:
        long = f" for {lasts}" if wanted.keep.minutes is not None else ""
        reason = (
            f"{says}{long} at {float(case.frame.bpm):.4g} beats a minute no whole number of its "
            f"strokes ({fast:g} to {slow:g} seconds each) fits."
        )
    return Reason(says=reason, wishes=wishes)


# ---- deep work -------------------------------------------------------------------------------


def highest(case: Case) -> int:
    """Return the highest pressure that the peak could have."""
    kept = [
        max(range.pressures(t, limits.cap(t, case.brief, case.craft)), default=0)
        for t in case.material.techniques
        if any(k.technique == t.id for k in case.brief.keep)
    ]
    return max([case.material.highest, *kept])


def _deep_reasons(wanted: Wanted, case: Case, says: str) -> Iterator[Reason]:
    """Yield why it cannot be deep, or not at its time: the firmest is in the peak alone."""
    if any(form.pressure < DEEP for form in wanted.forms):
        return
    pressure = min(form.pressure for form in wanted.forms)
    region = place(case.craft.region(wanted.technique.region))
    wishes = about(wanted.wish, taking(case.brief))
    if not has_warming(wanted.technique, case):
        yield Reason(
            says=f"{says} at pressure {pressure}, and nothing is left that could warm {region} "
            "before it.",
            wishes=wishes,
        )
        return
    if not has_rest(wanted.technique, case):
        yield Reason(
            says=f"{says} at pressure {pressure}, and nothing light is left on {region} that "
            "could answer it.",
            wishes=wishes,
        )
        return
    if wanted.window is not None and pressure >= highest(case):
        yield from _deep_place(wanted, pressure, case, says)


def _deep_place(wanted: Wanted, pressure: int, case: Case, says: str) -> Iterator[Reason]:
    assert wanted.window is not None
    summit = peak.summit(case.frame, pressure)
    first = Fraction(summit.first - summit.most_bars, 2)
    last = Fraction(summit.last + summit.most_bars, 2)
    if wanted.window[1] >= first and wanted.window[0] + wanted.least <= last:
        return
    yield Reason(
        says=f"{says} at pressure {pressure} at {case.clock(_asked_bar(wanted))}. The deepest work "
        f"belongs to the one peak, which lies between {case.clock(round(first))} and "
        f"{case.clock(round(last))} here.",
        wishes=about(wanted.wish, "minutes", "level" if case.brief.level < 5 else frozenset()),
    )


def _asked_bar(wanted: Wanted) -> int:
    """Return the bar in the middle of its window: the time that was asked for, about."""
    assert wanted.window is not None
    return (wanted.window[0] + wanted.window[1] + 1) // 2


# ---- its time --------------------------------------------------------------------------------


def _time_reasons(wanted: Wanted, case: Case) -> Iterator[Reason]:
    """Yield why its time is impossible, each for every form that it could have."""
    frame = case.frame
    is_above = wanted.technique.level > case.brief.level
    if is_above:
        yield from _stretch_time(wanted, case)
    if wanted.window is None or wanted.keep.at_seconds is None:
        return
    first, last = wanted.window

    def all_fail(may: Callable[[Form], bool]) -> bool:
        return not any(may(form) for form in wanted.forms)

    at = case.clock_of(wanted.keep.at_seconds)
    says = f"You insist on {wanted.technique.plain} at {at}."
    family = wanted.technique.family
    if last < frame.arrival[0] and all_fail(wanted.arrives):
        yield Reason(
            says=f"{says} Before it, {seconds_says(frame.arrival[0] * frame.bar_seconds)} to "
            "arrive do not fit.",
            wishes=about(wanted.wish),
        )
    elif last < opening.first_free_bar(frame) and all_fail(
        lambda form: opening.allows(family, form.pressure)
    ):
        yield Reason(
            says=f"{says} Until {case.clock(opening.first_free_bar(frame))} hands arrive: they "
            "only glide, hold or embrace, no firmer than 2.",
            wishes=about(wanted.wish),
        )
    fits_end = not all_fail(lambda form: _fits_end(wanted, form, case))
    if not fits_end:
        yield _past_end(wanted, case, says)
    elif all_fail(
        lambda form: first + form.least <= close.last_free_bar(frame) or close.allows(form.pressure)
    ):
        yield Reason(
            says=f"{says} It would reach into the close, from "
            f"{case.clock(close.last_free_bar(frame))} on, where nothing is firmer than 2.",
            wishes=about(wanted.wish, "minutes"),
        )


def _fits_end(wanted: Wanted, form: Form, case: Case) -> bool:
    """True where a close fits after it, or it can itself be the close."""
    assert wanted.window is not None
    first, last = wanted.window
    bars, closing = case.frame.bars, case.frame.closing
    if first + form.least + closing[0] <= bars:
        return True
    is_closing = closing[0] <= form.bars <= closing[1] and first <= bars - form.bars <= last
    return wanted.ends(form) and is_closing


def _past_end(wanted: Wanted, case: Case, says: str) -> Reason:
    frame = case.frame
    end = seconds_says(frame.closing[0] * frame.bar_seconds)
    both = " on both sides" if wanted.technique.lateral else ""
    rest = " with its rest" if all(f.pressure >= DEEP for f in wanted.forms) else ""
    lasts = seconds_says(wanted.least * frame.bar_seconds)
    return Reason(
        says=f"{says} It takes at least {lasts}{both}{rest}, and after it {end} to close do not "
        f"fit before {case.clock(frame.bars)}.",
        wishes=about(wanted.wish, "minutes"),
    )


def _stretch_time(wanted: Wanted, case: Case) -> Iterator[Reason]:
    """Yield why the one passage above the level cannot stand where it is asked for."""
    first, end = level.first_stretch_bar(case.frame), close.last_free_bar(case.frame)
    wishes = about(wanted.wish, "minutes", "level")
    low, high = wanted.window if wanted.window is not None else (0, case.frame.bars)
    where = ""
    if wanted.keep.at_seconds is not None:
        where = f" at {case.clock_of(wanted.keep.at_seconds)}"
    says = (
        f"You insist on {wanted.technique.plain}{where}. It is above the couple's level, so it may "
        "only be the stretch passage, which"
    )
    if high < first:
        yield Reason(
            says=f"{says} starts in the last third, from {case.clock(first)} on.", wishes=wishes
        )
    elif max(low, first) + wanted.least > end:
        yield Reason(
            says=f"{says} starts at {case.clock(first)} at the earliest and is over before the "
            f"close at {case.clock(end)}; it takes at least "
            f"{seconds_says(wanted.least * case.frame.bar_seconds)}.",
            wishes=wishes,
        )
