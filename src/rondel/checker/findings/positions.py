"""Where the receiver turns over too often, at a wrong moment, or without time for it.

A change happens between two passages of the line of which one is of the refrain or open, or one is
a turning that itself touches such a passage. Beside it stands an open passage or a still hold of at
least 12 seconds (scaled). A position that the brief does not offer is a finding of this rule,
and so are two layers that ask for two positions at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import floor

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.names import POSITION_SAYS, lying_says
from rondel.model.routine import Passage
from rondel.model.words import Layer, Role
from rondel.rules.positions import EACH_MINUTES, FIRST_MINUTES, RULE, SECONDS


def findings(view: View) -> Iterator[Finding]:
    yield from _offered(view)
    yield from _layers(view)
    needed = SECONDS * view.scale
    changes = [i for i, (a, b) in enumerate(view.steps) if a.position is not b.position]
    allowed = allowed_changes(view.minutes)
    for count, i in enumerate(changes, start=1):
        before, after = view.steps[i]
        turned = f"{POSITION_SAYS[before.position]} to {POSITION_SAYS[after.position]}"
        turns = f"{view.place(after)} has the receiver turn from {turned}"
        if count > allowed:
            often = "once" if allowed == 1 else f"{allowed} times"
            says = f"{turns}, change {count}; in {view.minutes:g} minutes {often} is the most."
            yield view.finding(RULE, after.start_bar, says)
        if not _is_at_home(view, i) and not _is_at_home(view, i + 1):
            says = f"{turns} in the midst of work; do it at the refrain or at an open passage."
            yield view.finding(RULE, after.start_bar, says)
        given = max((view.seconds(p) for p in (before, after) if _is_free(view, p)), default=0.0)
        if given < needed - ROUNDING_SECONDS:
            says = f"{turns} with {given:.0f} seconds of stillness beside it; give at least"
            yield view.finding(RULE, after.start_bar, f"{says} {needed:.0f}.")


def allowed_changes(minutes: float) -> int:
    """Return how often the receiver may change position."""
    return 1 + floor(max(0.0, minutes - FIRST_MINUTES) / EACH_MINUTES)


def _is_home(passage: Passage) -> bool:
    return passage.role is Role.REFRAIN or passage.is_open


def _is_at_home(view: View, place: int) -> bool:
    """True where passage `place` of the line may stand beside a change of position."""
    passage = view.line[place]
    beside = view.line[max(place - 1, 0) : place + 2]
    is_turning_at_home = view.is_turning(passage) and any(_is_home(p) for p in beside)
    return _is_home(passage) or is_turning_at_home


def _is_free(view: View, passage: Passage) -> bool:
    return passage.is_open or view.is_still(passage)


def _offered(view: View) -> Iterator[Finding]:
    offered = view.brief.positions if view.brief else ()
    for passage in view.passages:
        if offered and passage.position not in offered:
            is_so = f"{view.place(passage)} has the receiver {lying_says(passage.position)}"
            offers = " and ".join(lying_says(position) for position in offered)
            says = f"{is_so}; the brief offers {offers} only."
            yield view.finding(RULE, passage.start_bar, says)


def _layers(view: View) -> Iterator[Finding]:
    for over in (p for p in view.passages if p.layer is Layer.OVER):
        for under in view.line:
            shares = under.start_bar < over.end_bar and over.start_bar < under.end_bar
            if shares and under.position is not over.position:
                one, other = lying_says(over.position), lying_says(under.position)
                says = (
                    f"{view.place(over)} has the receiver {one} while {view.place(under)} has them "
                    f"{other}; nobody can do both."
                )
                yield view.finding(RULE, over.start_bar, says)
