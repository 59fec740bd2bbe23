"""Where something that the teacher insists on is not there as she said.

For a technique done on each side the keep speaks of the first block of its pair, or of the block on
its side where it names one. Its length may be that of the passage, of the passages of this
technique in a row, or of the whole block with its rest: any of these, within one bar, will do.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rondel.checker.view import ROUNDING_SECONDS, View
from rondel.model.brief import Keep
from rondel.model.finding import Finding
from rondel.model.names import ON_SIDE_SAYS
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage
from rondel.model.time import as_minutes
from rondel.model.words import Layer
from rondel.rules.keep import RULE, TOLERANCE_BARS


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A passage that may be what is meant, and the lengths that it may be said to have."""

    passage: Passage
    lengths: tuple[float, ...]


def findings(view: View) -> Iterator[Finding]:
    for keep in view.brief.keep if view.brief else ():
        asked_bar = view.bar_of(float(keep.at_seconds)) if keep.at_seconds is not None else 0
        if not view.craft.has_technique(keep.technique):
            says = f'The brief insists on "{keep.technique}", which is not in the repertoire.'
            yield view.finding(RULE, asked_bar, says)
            continue
        technique = view.craft.technique(keep.technique)
        candidates = list(_candidates(view, keep, technique))
        if not candidates:
            side = f" {ON_SIDE_SAYS[keep.side]}" if keep.side else ""
            says = f"The brief insists on {technique.plain}{side}, and it is nowhere done."
            yield view.finding(RULE, asked_bar, says)
            continue
        wrong = min((_wrong(view, keep, c) for c in candidates), key=lambda w: len(w[1]))
        passage, reasons = wrong
        if reasons:
            says = f"{view.place(passage)} is not as the brief insists: {' and '.join(reasons)}."
            yield view.finding(RULE, passage.start_bar, says)


def _candidates(view: View, keep: Keep, technique: Technique) -> Iterator[Candidate]:
    is_both = keep.side is not None and not keep.side.is_one_sided
    side = None if technique.lateral and is_both else keep.side
    for blocks in view.rounds:
        meant = [b for b in blocks if b.side is side] if side else list(blocks[:1])
        for block in meant:
            for passage in block.passages:
                if passage.technique == technique.id:
                    yield Candidate(
                        passage=passage,
                        lengths=(
                            view.seconds(passage),
                            view.seconds(*_row(view, passage)),
                            view.seconds(*block.passages),
                        ),
                    )
    for passage in view.passages:
        is_meant = passage.technique == technique.id and side in (None, passage.side)
        if passage.layer is Layer.OVER and is_meant:
            yield Candidate(passage=passage, lengths=(view.seconds(passage),))


def _row(view: View, passage: Passage) -> tuple[Passage, ...]:
    """Return `passage` with the passages at once after it that go on with it."""
    place = next(i for i, p in enumerate(view.line) if p is passage)
    past = place + 1
    while past < len(view.line) and _goes_on(passage, view.line[past]):
        past += 1
    return view.line[place:past]


def _goes_on(passage: Passage, later: Passage) -> bool:
    return later.technique == passage.technique and later.side is passage.side


def _wrong(view: View, keep: Keep, candidate: Candidate) -> tuple[Passage, list[str]]:
    """Return the passage, and what about it differs from the wish, in words."""
    passage, reasons = candidate.passage, []
    about = TOLERANCE_BARS * view.bar_seconds + ROUNDING_SECONDS
    start = view.start(passage)
    if keep.at_seconds is not None and abs(start - float(keep.at_seconds)) > about:
        reasons.append(f"it should start at {as_minutes(float(keep.at_seconds))}")
    if keep.minutes is not None:
        asked = float(keep.minutes) * 60
        if all(abs(length - asked) > about for length in candidate.lengths):
            lasts = f"{candidate.lengths[0]:.0f} seconds"
            reasons.append(f"it should last {asked:.0f} seconds and lasts {lasts}")
    if keep.pressure is not None and passage.pressure != keep.pressure:
        reasons.append(f"it should press at {keep.pressure} and presses at {passage.pressure}")
    return passage, reasons
