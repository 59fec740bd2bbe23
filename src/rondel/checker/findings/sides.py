"""Where lateral work is not done alike on both sides, one soon after the other.

A technique that is done on each side is done on the left or the right; one that is not, on both or
in the centre: anything else is a finding of this rule. Bars left open are nobody's side. The upper
layer of a peak is not part of the line and only held against these words.
"""

from __future__ import annotations

from collections.abc import Iterator

from rondel.checker.blocks import Block
from rondel.checker.view import View
from rondel.model.finding import Finding
from rondel.rules.sides import RULE


def findings(view: View) -> Iterator[Finding]:
    for passage, technique in view.known():
        if technique.lateral and not passage.side.is_one_sided:
            says = f"{view.place(passage)} is done on each side; plan it on the left, then the same"
            yield view.finding(RULE, passage.start_bar, f"{says} on the right.")
        if not technique.lateral and passage.side.is_one_sided:
            says = f"{view.place(passage)} is not done one side at a time; plan it on both"
            yield view.finding(RULE, passage.start_bar, f"{says} or in the centre.")
    for block, partner in zip(view.blocks, view.partners, strict=True):
        if partner is None and block.is_one_sided and _is_lateral(view, block):
            yield view.finding(RULE, block.first.start_bar, _alone(view, block))


def _is_lateral(view: View, block: Block) -> bool:
    """True where any technique of the block is done on each side, or may be: it is not known."""
    techniques = [view.technique(p) for p in block.passages]
    return any(t is None or t.lateral for t in techniques)


def _alone(view: View, block: Block) -> str:
    shown = view.place(block.first)
    more = len(block.passages) - 1
    if more:
        shown += f" with the {'passage' if more == 1 else f'{more} passages'} that belong to it"
    return (
        f"{shown} has no equal on the {block.side.other}; do the same there right after it, with "
        "the same pressure and length."
    )
