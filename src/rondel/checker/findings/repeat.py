"""Where the same technique comes back in the next block, or too often.

Blocks outside the refrain are counted, a pair as one. A refrain between two blocks parts them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise

from rondel.checker.blocks import Block
from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import Role
from rondel.rules.repeat import RULE


def findings(view: View) -> Iterator[Finding]:
    for before, after in pairwise(view.rounds):
        again = _techniques(before) & _techniques(after)
        if again:
            first = next(p for p in _passages(after) if p.technique in again)
            says = f"{view.place(first)} was done in the block before already; put something else"
            yield view.finding(RULE, first.start_bar, f"{says} between, or another technique.")
    yield from _too_often(view)


def _passages(blocks: tuple[Block, ...]) -> list[Passage]:
    return [p for b in blocks for p in b.passages if p.role is not Role.REFRAIN]


def _techniques(blocks: tuple[Block, ...]) -> set[str]:
    return {p.technique for p in _passages(blocks) if p.technique is not None}


def _too_often(view: View) -> Iterator[Finding]:
    most, minutes = int(view.number(RULE, "max_times")), view.number(RULE, "per_minutes")
    starts: dict[str, list[int]] = defaultdict(list)
    for blocks in view.rounds:
        for technique in sorted(_techniques(blocks)):
            starts[technique].append(blocks[0].first.start_bar)
    for technique, bars in starts.items():
        told_until = -1.0
        for first, last in zip(bars, bars[most:], strict=False):
            span = view.at(last) - view.at(first)
            if span < minutes * 60 and view.at(first) > told_until:
                known = view.craft.has_technique(technique)
                name = view.craft.technique(technique).plain if known else technique
                times = "once" if most == 1 else f"{most} times"
                says = (
                    f"{name} comes more than {times} in {minutes:g} minutes, from "
                    f"{as_minutes(view.at(first))} to {as_minutes(view.at(last))}; replace one."
                )
                told_until = view.at(last)
                yield view.finding(RULE, last, says)
