"""Where a contact is used that the brief spares."""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.words import CONTACT_NAME
from rondel.rules.spare import RULE


def findings(view: View) -> Iterator[Finding]:
    spared = view.brief.spare if view.brief else ()
    for passage, technique in view.known():
        if technique.contact in spared:
            says = (
                f"{view.place(passage)} uses the {CONTACT_NAME[technique.contact]}, which the "
                "brief spares; choose a technique with another contact."
            )
            yield view.finding(RULE, passage.start_bar, says)
