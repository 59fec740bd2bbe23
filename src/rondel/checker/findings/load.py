"""Where one contact works deep for more than two minutes in a row, whatever the side."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.words import CONTACT_NAME, Contact
from rondel.rules.load import MAX_SECONDS, RULE


def findings(view: View) -> Iterator[Finding]:
    def loaded(passage: Passage) -> Contact | None:
        technique = view.technique(passage)
        return technique.contact if technique and passage.is_deep else None

    for contact, row in groupby(view.line, key=loaded):
        passages = tuple(row)
        worked = view.seconds(*passages)
        if contact is not None and worked > MAX_SECONDS + ROUNDING_SECONDS:
            says = (
                f"From {view.place(passages[0])} on, {worked:.0f} seconds of deep work in a row "
                f"are done with the {CONTACT_NAME[contact]}; {MAX_SECONDS} are the most. Rest, or "
                "change the contact."
            )
            yield view.finding(RULE, passages[0].start_bar, says)
