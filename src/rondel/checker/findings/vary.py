"""Where the work is monotonous.

Rounds (a block, or both blocks of a pair) outside the refrain are compared. Strained: one contact
loaded in three rounds running, fewer than half as many techniques as rounds, or one family for
more than four fifths of the work. Short routines of fewer than four rounds are left alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import groupby

from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.words import CONTACT_NAME, TRADE_NAME, Contact, Family, Role
from rondel.rules.vary import RULE

MIN_ROUNDS = 4
SAME_CONTACT_ROUNDS = 3
MIN_TECHNIQUES = 0.5  # of the number of rounds
MAX_FAMILY_SHARE = 0.8  # of the seconds of work

ARRIVING = (Role.REFRAIN, Role.ARRIVE, Role.CLOSE, Role.OPEN)


def findings(view: View) -> Iterator[Finding]:
    firsts = [r[0].first for r in view.rounds if r[0].first.role not in ARRIVING]
    known = [p for p in firsts if view.technique(p) is not None]
    if len(known) < MIN_ROUNDS:
        return
    yield from _contacts(view, known)
    techniques = len({p.technique for p in known})
    if techniques < MIN_TECHNIQUES * len(known):
        says = f"Only {techniques} techniques fill {len(known)} blocks; bring in a few more."
        yield view.finding(RULE, known[0].start_bar, says)
    yield from _families(view)


def _contacts(view: View, known: list[Passage]) -> Iterator[Finding]:
    def contact(passage: Passage) -> Contact | None:
        technique = view.technique(passage)
        return technique.contact if technique else None

    for loaded, row in groupby(known, key=contact):
        passages = tuple(row)
        if loaded is not None and len(passages) >= SAME_CONTACT_ROUNDS:
            says = (
                f"From {view.place(passages[0])} on {len(passages)} blocks running load the "
                f"{CONTACT_NAME[loaded]}; change to another contact between."
            )
            yield view.finding(RULE, passages[0].start_bar, says)


def _families(view: View) -> Iterator[Finding]:
    seconds: dict[Family, float] = defaultdict(float)
    for passage in view.line:
        family = view.family(passage)
        if family is not None and passage.role not in ARRIVING:
            seconds[family] += view.seconds(passage)
    total = sum(seconds.values())
    for family, part in seconds.items():
        if part > MAX_FAMILY_SHARE * total:
            says = f"{part / total:.0%} of the work is {family} ({TRADE_NAME[family]}); bring in"
            yield view.finding(RULE, 0, f"{says} another family.")
