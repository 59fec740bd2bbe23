"""Where a passage asks for a pressure or a position that its technique is not taught in.

What is not known at all is a finding of this rule too: a technique that is not in the
repertoire, or one whose region the body file does not have.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.names import lying_says
from rondel.model.time import as_minutes
from rondel.rules.range import RULE


def findings(view: View) -> Iterator[Finding]:
    for passage in view.passages:
        if passage.is_open:
            continue
        technique = view.technique(passage)
        if technique is None:
            says = (
                f'The passage at {as_minutes(view.start(passage))} asks for "{passage.technique}", '
                "which is not in the repertoire; add it there or choose another technique."
            )
            yield view.finding(RULE, passage.start_bar, says)
            continue
        if view.region_of(technique) is None:
            says = f'{view.place(passage)} works on "{technique.region}", which is not a known'
            yield view.finding(RULE, passage.start_bar, f"{says} region; see `rondel regions`.")
        low, high = technique.pressure
        if not low <= passage.pressure <= high:
            taught = f"{low}" if low == high else f"{low} to {high}"
            says = f"{view.place(passage)} has pressure {passage.pressure}; it is taught at"
            yield view.finding(RULE, passage.start_bar, f"{says} {taught}.")
        if passage.position not in technique.position:
            taught = " or ".join(lying_says(position) for position in technique.position)
            is_so = f"{view.place(passage)} has the receiver {lying_says(passage.position)}"
            yield view.finding(RULE, passage.start_bar, f"{is_so}; it is taught {taught}.")
