"""Hold a finished routine against the rule book.

The checker shares the statements in `rondel.rules` with the planner and nothing else, so that no
mistake hides in both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from rondel.checker.findings import (
    audible,
    avoid,
    cautions,
    close,
    contact_kept,
    curve,
    ending,
    filler,
    focus,
    home,
    keep,
    length,
    level,
    limits,
    load,
    open,
    opening,
    peak,
    phrase,
    positions,
    quiet,
    range,
    reach,
    refrain_same,
    refrain_spacing,
    repeat,
    rest,
    rhythm,
    rise,
    sides,
    small_areas,
    spare,
    speed,
    strokes,
    summit,
    turns,
    vary,
    warm,
)
from rondel.checker.view import View, look
from rondel.model.brief import Brief
from rondel.model.finding import Finding, Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.rules.book import BY_ID
from rondel.rules.length import RULE as LENGTH

#: What looks for breaches of each rule, in the order of the rule book.
FINDERS: dict[str, Callable[[View], Iterator[Finding]]] = {
    "length": length.findings,
    "strokes": strokes.findings,
    "range": range.findings,
    "opening": opening.findings,
    "close": close.findings,
    "refrain_same": refrain_same.findings,
    "refrain_spacing": refrain_spacing.findings,
    "sides": sides.findings,
    "warm": warm.findings,
    "rise": rise.findings,
    "rest": rest.findings,
    "peak": peak.findings,
    "level": level.findings,
    "spare": spare.findings,
    "avoid": avoid.findings,
    "limits": limits.findings,
    "cautions": cautions.findings,
    "reach": reach.findings,
    "positions": positions.findings,
    "keep": keep.findings,
    "open": open.findings,
    "load": load.findings,
    "repeat": repeat.findings,
    "focus": focus.findings,
    "filler": filler.findings,
    "curve": curve.findings,
    "vary": vary.findings,
    "small_areas": small_areas.findings,
    "speed": speed.findings,
    "rhythm": rhythm.findings,
    "contact_kept": contact_kept.findings,
    "phrase": phrase.findings,
    "quiet": quiet.findings,
    "audible": audible.findings,
    "home": home.findings,
    "summit": summit.findings,
    "turns": turns.findings,
    "ending": ending.findings,
}


#: Rules whose findings may be a must. The summit of a track is one where it stands out clearly.
_FIRM = tuple(i for i in FINDERS if BY_ID[i].severity is Severity.MUST or i == "summit")
_MINDED = tuple(i for i in FINDERS if BY_ID[i].severity is Severity.MIND or i == "summit")


def check(routine: Routine, craft: Craft, brief: Brief | None = None) -> tuple[Finding, ...]:
    """Return where `routine` breaks or strains a rule, in order of bars, then of the rule book.

    The brief is the one given, else the one the routine carries. Without any, what only a brief
    can ask for is left out, and so are rules that the teacher gives no weight.
    Never raises: whatever is odd about a routine is a finding in words.
    """
    view = look(routine, craft, brief)
    if not view.passages:
        says = "The routine has no passages, so there is nothing to do; add some, or plan it anew."
        return (view.finding(LENGTH, 0, says),)
    minded = [id for id in FINDERS if BY_ID[id].weight_in(craft.settings) > 0]
    found = [f for id in minded for f in FINDERS[id](view)]
    return tuple(sorted(found, key=lambda f: f.at_bar))


def breaches(routine: Routine, craft: Craft) -> Iterator[Finding]:
    """Yield the findings of `check` that are a must, rule by rule, none of the others looked at: a
    planner asks this of many routines, and mostly only whether there is any."""
    view = look(routine, craft, None)
    if not view.passages:
        yield from check(routine, craft)
        return
    for id in _FIRM:
        if BY_ID[id].weight_in(craft.settings) > 0:
            yield from (f for f in FINDERS[id](view) if f.severity is Severity.MUST)


def minded(routine: Routine, craft: Craft) -> Iterator[Finding]:
    """Yield the findings of `check` that cost and are no must, rule by rule."""
    view = look(routine, craft, None)
    for id in _MINDED if view.passages else ():
        if BY_ID[id].weight_in(craft.settings) > 0:
            yield from (f for f in FINDERS[id](view) if f.severity is Severity.MIND)


def is_lawful(routine: Routine, craft: Craft) -> bool:
    """True where `routine` breaks no rule that must hold."""
    return next(breaches(routine, craft), None) is None
