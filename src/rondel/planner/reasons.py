"""Why no plan can be: arithmetic on the brief alone, in sentences with numbers."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

from rondel.model.brief import Brief, Keep
from rondel.model.repertoire import Craft, Technique
from rondel.model.time import as_minutes
from rondel.model.words import CONTACT_NAME, DEEP
from rondel.planner.constraints import (
    avoid,
    cautions,
    close,
    keep,
    level,
    limits,
    peak,
    range,
    spare,
)
from rondel.planner.constraints import open as open_bars
from rondel.planner.frame import Frame
from rondel.planner.material import Material, allowed_positions
from rondel.planner.naming import listed, place
from rondel.planner.refrains import Refrain
from rondel.rules.length import ARRIVE_SECONDS, ORDINARY_SECONDS, REFRAIN_SECONDS
from rondel.rules.refrain_spacing import MIN_GAP_SECONDS

_NUMBERS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)


def clinician_reasons(brief: Brief, craft: Craft) -> tuple[str, ...]:
    """Return a sentence for every caution that allows no session before a clinician is asked."""
    found = []
    for id in brief.cautions:
        caution = craft.caution(id)
        if caution.forbids.everything:
            found.append(
                f"{caution.name}: no session is planned. Please ask a clinician first; "
                "this is a matter for them and not for a planner."
            )
    return tuple(found)


def reasons_against(
    brief: Brief, craft: Craft, material: Material, frame: Frame, rows: tuple[Refrain, ...]
) -> tuple[str, ...]:
    """Return everything that arithmetic alone shows to be impossible; () proves nothing."""
    found = [
        *_position_reasons(brief, craft),
        *_region_reasons(brief, craft, material),
        *(reason for wanted in brief.keep for reason in _keep_reasons(wanted, brief, craft, frame)),
        *_keeps_together(brief, craft, frame),
    ]
    if not found and not rows:
        found.append(
            "No refrain can be made: no hold or embrace is left that may be done here. "
            "Nothing else in the brief can stand without one."
        )
    found += _time_reasons(brief, frame)
    return tuple(dict.fromkeys(found))


def _position_reasons(brief: Brief, craft: Craft) -> list[str]:
    if allowed_positions(brief, craft):
        return []
    asked = listed(str(p) for p in brief.positions)
    names = listed(craft.caution(id).name for id in brief.cautions)
    return [f"You ask for {asked}, but what is written under cautions ({names}) rules that out."]


def _region_reasons(brief: Brief, craft: Craft, material: Material) -> list[str]:
    """Return main regions on which nothing is left to do."""
    found = []
    for id in brief.main_regions:
        name = place(craft.region(id))
        if id in brief.avoid_regions:
            found.append(f"You ask for most work on {name}, and to avoid {name}.")
            continue
        usable = [i for i in material.ordinary() if material.techniques[i].region == id]
        if not usable:
            found.append(
                f"You ask for most work on {name}, but no technique there is left: "
                f"{_what_takes(id, brief, craft)}."
            )
    return found


def _what_takes(region: str, brief: Brief, craft: Craft) -> str:
    """Return what takes the techniques of a region away, as part of a sentence."""
    there = [t for t in craft.techniques if t.region == region and not t.helps_turn]
    if not there:
        return "the repertoire has none"
    causes: list[tuple[str, Callable[[Technique], bool]]] = [
        ("the contacts you spare", lambda t: not spare.allows(t, brief)),
        ("the regions you avoid", lambda t: not avoid.allows(t, brief, craft)),
        ("the cautions", lambda t: not cautions.allows(t, brief, craft)),
        ("what the region bears", lambda t: not limits.allows(t, craft)),
        ("the level", lambda t: not level.allows(t, brief)),
        (
            "the limits of pressure",
            lambda t: not range.pressures(t, limits.cap(t, brief, craft)),
        ),
        (
            "the positions",
            lambda t: not range.positions(t, allowed_positions(brief, craft)),
        ),
    ]
    named = [name for name, takes in causes if any(takes(t) for t in there)]
    return f"{listed(named)} take away all {len(there)}"


def _keep_reasons(wanted: Keep, brief: Brief, craft: Craft, frame: Frame) -> list[str]:
    """Return why one thing insisted on cannot stand."""
    technique = craft.technique(wanted.technique)
    says = f"You insist on {technique.plain}, but"
    found = _kept_technique(technique, brief, craft, says)
    if found:
        return found
    cap = limits.cap(technique, brief, craft)
    low, high = technique.pressure
    if wanted.pressure is not None and not low <= wanted.pressure <= min(high, cap):
        found.append(
            f"{says} at pressure {wanted.pressure}, while it is taught from {low} to {high} and "
            f"here no more than {cap} is safe."
        )
    if wanted.side is not None and technique.lateral is not wanted.side.is_one_sided:
        has = "is done on each side" if technique.lateral else "is not done on one side"
        found.append(f"{says} on the side “{wanted.side}”, and it {has}.")
    found += _kept_time(wanted, technique, frame)
    if not found and wanted.pressure is not None:
        found += _kept_deep(wanted, wanted.pressure, brief, frame, says)
    return found


def _kept_deep(wanted: Keep, pressure: int, brief: Brief, frame: Frame, says: str) -> list[str]:
    """Return why deep work cannot stand at its time: the firmest is in the peak alone."""
    levels = limits.TRAINED_LEVEL_LIMITS if brief.trained else limits.LEVEL_LIMITS
    if pressure < DEEP or pressure < levels[brief.level] or wanted.at_seconds is None:
        return []
    summit = peak.summit(frame, pressure)
    first = Fraction(summit.first - summit.most_bars, 2) * frame.bar_seconds
    last = Fraction(summit.last + summit.most_bars, 2) * frame.bar_seconds
    if first - frame.bar_seconds <= wanted.at_seconds <= last + frame.bar_seconds:
        return []
    return [
        f"{says} at pressure {pressure} at {as_minutes(float(wanted.at_seconds))}. The deepest "
        f"work belongs to the one peak, which lies between {as_minutes(float(first))} and "
        f"{as_minutes(float(last))} here."
    ]


def _kept_technique(technique: Technique, brief: Brief, craft: Craft, says: str) -> list[str]:
    """Return what rules a kept technique out altogether."""
    region = place(craft.region(technique.region))
    above = technique.level - brief.level
    tests = (
        (
            spare.allows(technique, brief),
            f"it uses the {CONTACT_NAME[technique.contact]}, which you spare.",
        ),
        (
            avoid.allows(technique, brief, craft),
            f"it meets {region}, or passes over a place that you avoid.",
        ),
        (cautions.allows(technique, brief, craft), "one of the cautions rules it out."),
        (limits.allows(technique, craft), f"{region} does not bear {technique.family}."),
        (
            bool(range.pressures(technique, limits.cap(technique, brief, craft))),
            f"it begins at pressure {technique.pressure[0]}, and here no more than "
            f"{limits.cap(technique, brief, craft)} is safe.",
        ),
        (
            bool(range.positions(technique, allowed_positions(brief, craft))),
            f"it is done {listed(str(p) for p in technique.position)}, which is not among the "
            "positions.",
        ),
        (
            above <= 0 or level.may_stretch(technique, brief),
            f"it is of level {technique.level} and the couple of level {brief.level}"
            + ("." if brief.stretch else ", and no stretch passage is allowed."),
        ),
    )
    return [f"{says} {reason}" for holds, reason in tests if not holds]


def _kept_time(wanted: Keep, technique: Technique, frame: Frame) -> list[str]:
    """Return why its time is impossible."""
    window = keep.start_window(wanted, frame)
    if window is None or wanted.at_seconds is None:
        return []
    at = as_minutes(float(wanted.at_seconds))
    sides = 2 if technique.lateral else 1
    lasts = (wanted.minutes or Fraction(0)) * 60 * sides
    if wanted.at_seconds + lasts > frame.total_seconds + frame.bar_seconds:
        return [
            f"You insist on {technique.plain} from {at} on, which goes past the end at "
            f"{as_minutes(float(frame.total_seconds))}."
        ]
    least = max(lasts, ORDINARY_SECONDS[0] * frame.scale * sides)
    end = ORDINARY_SECONDS[0] * frame.scale
    may_end = not technique.lateral and close.may_end(technique.family, technique.pressure[0])
    if not may_end and wanted.at_seconds - frame.bar_seconds + least + end > frame.total_seconds:
        both = " on both sides" if technique.lateral else ""
        return [
            f"You insist on {technique.plain} at {at}. It takes at least {_seconds(least)}{both}, "
            f"and after it {_seconds(end)} to close do not fit before "
            f"{as_minutes(float(frame.total_seconds))}."
        ]
    is_above = technique.level > frame.brief.level
    if is_above and window[1] < level.first_stretch_bar(frame):
        third = as_minutes(float(level.first_stretch_bar(frame) * frame.bar_seconds))
        return [
            f"You insist on {technique.plain} at {at}. It is above the couple's level, so it may "
            f"only be the stretch passage, which starts in the last third, from {third} on."
        ]
    return []


def _keeps_together(brief: Brief, craft: Craft, frame: Frame) -> list[str]:
    """Return keeps that stand in each other's way, or are too much together."""
    found = []
    timed = sorted(
        (k for k in brief.keep if k.at_seconds is not None), key=lambda k: k.at_seconds or 0
    )
    for one, two in pairwise(timed):
        technique = craft.technique(one.technique)
        lasts = (one.minutes or Fraction(0)) * 60 * (2 if technique.lateral else 1)
        least = max(lasts, Fraction(1))
        if (one.at_seconds or 0) + least > (two.at_seconds or 0) + 2 * frame.bar_seconds:
            other = craft.technique(two.technique)
            found.append(
                f"{technique.plain} and {other.plain} are both insisted on at about "
                f"{as_minutes(float(two.at_seconds or 0))}; there is no room for both."
            )
    above = {k.technique for k in brief.keep if craft.technique(k.technique).level > brief.level}
    if len(above) > 1 and brief.stretch:
        names = listed(craft.technique(id).plain for id in sorted(above))
        found.append(f"{names} are all above the couple's level, and only one may be.")
    return found


def _time_reasons(brief: Brief, frame: Frame) -> list[str]:
    """Return sums that do not fit into the minutes."""
    s, returns = brief.scale, frame.refrains
    home, gap = REFRAIN_SECONDS[0] * s, MIN_GAP_SECONDS * s
    g = brief.minutes * 60 / (returns + 1)
    gap = min(gap, g / 3)
    arrive, end = ARRIVE_SECONDS[0] * s, ORDINARY_SECONDS[0] * s
    homes = returns * home + (returns - 1) * gap
    have = brief.minutes * 60
    found = []
    if arrive + homes + end > have:
        found.append(
            f"{_count(returns)} returns of at least {_seconds(home)}, {_seconds(gap)} between "
            f"them, {_seconds(arrive)} to arrive and {_seconds(end)} to close need "
            f"{as_minutes(float(arrive + homes + end))}, but the brief gives "
            f"{as_minutes(float(have))}."
        )
    if not brief.open_minutes:
        return found
    total = open_bars.total_bars(frame)
    if total < open_bars.least_bars(frame):
        least = open_bars.least_bars(frame) * frame.bar_seconds
        found.append(
            f"An open passage lasts at least {_seconds(least)}, but only "
            f"{_seconds(brief.open_minutes * 60)} are left free."
        )
    peak = ORDINARY_SECONDS[0] * s
    need = brief.open_minutes * 60 + returns * home + arrive + peak + end
    if need > have:
        found.append(
            f"{as_minutes(float(brief.open_minutes * 60))} left free, {_count(returns).lower()} "
            f"returns of at least {_seconds(home)}, {_seconds(arrive)} to arrive, "
            f"{_seconds(peak)} of work and {_seconds(end)} to close need "
            f"{as_minutes(float(need))}, but the brief gives {as_minutes(float(have))}."
        )
    return found


def _count(number: int) -> str:
    return (_NUMBERS[number] if number < len(_NUMBERS) else str(number)).capitalize()


def _seconds(seconds: Fraction | int) -> str:
    whole = round(float(seconds))
    return f"{whole} seconds" if whole < 90 else as_minutes(whole)
