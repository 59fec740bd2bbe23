"""A routine as a row of slots that can be stretched, squeezed and put in another order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from rondel.model.brief import Brief
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.words import Position
from rondel.planner import edit_limits as limits
from rondel.planner.constraints import strokes
from rondel.planner.frame import Frame
from rondel.planner.groups import Group
from rondel.planner.targets import Done

#: Passages one after the other, each with its bars.
Row = tuple[tuple[Passage, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """What fills some bars. `elastic` are the places in the row that may last longer or less long,
    all by the same (left and right of a pair); none where the slot stays as long as it is."""

    row: Row
    elastic: tuple[int, ...] = ()
    bounds: tuple[int, int] = (0, 0)

    @property
    def bars(self) -> int:
        return sum(bars for _, bars in self.row)

    def may_grow(self, by: int) -> bool:
        """True where the slot may last `by` bars longer (or, below 0, less long) in all."""
        if not self.elastic or by % len(self.elastic):
            return False
        low, high = self.bounds
        each = self.row[self.elastic[0]][1] + by // len(self.elastic)
        return low <= each <= high

    def grown(self, by: int) -> Row:
        """Return the row with `by` bars more."""
        each = by // len(self.elastic) if self.elastic else 0
        return tuple(
            (p, bars + each) if i in self.elastic else (p, bars)
            for i, (p, bars) in enumerate(self.row)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Slots in order, of which `anchor` is the one that was asked for and should start at bar
    `start`. They may last more or fewer bars than the routine."""

    slots: tuple[Slot, ...]
    anchor: int
    start: int

    @property
    def bars(self) -> int:
        return sum(slot.bars for slot in self.slots)

    @property
    def anchor_start(self) -> int:
        return sum(slot.bars for slot in self.slots[: self.anchor])


def slot_of(group: Group, frame: Frame) -> Slot:
    """Return `group` as a slot; only work that nobody insists on, arrival and close are elastic."""
    row = tuple((p, p.bars) for p in group.passages)
    is_fixed = group.is_refrain or group.is_open or group.is_turning or len(group.work) > 1
    if is_fixed or any(p.kept for p in group.passages):
        return Slot(row=row)
    work = group.work[0]
    elastic = tuple(
        i
        for i, p in enumerate(group.passages)
        if p.technique == work.technique and p.role is work.role
    )
    return Slot(row=row, elastic=elastic, bounds=limits.bars_allowed(frame, work.role))


def done_in_rows(rows: list[Row]) -> list[Done]:
    """Return what is done in every bar."""
    done: list[Done] = []
    for row in rows:
        for passage, bars in row:
            done += [(passage.technique, passage.side, passage.pressure)] * bars
    return done


def routine_of_rows(
    rows: list[Row], old: Routine, brief: Brief, frame: Frame, craft: Craft
) -> Routine | None:
    """Return the rows as a routine, with strokes that fill them; None where none do.

    What comes from another place takes the position of what it now follows.
    """
    before = {p.id: p for p in old.line}
    found: list[Passage] = []
    at, position = 0, old.line[0].position
    for row in rows:
        for passage, bars in row:
            laid = _laid(passage, bars, before.get(passage.id), frame, craft)
            if laid is None:
                return None
            position = _position(laid, old, at, position)
            id = f"p{len(found) + 1:02d}"
            found.append(replace(laid, id=id, start_bar=at, position=position, why=()))
            at += bars
    return replace(old, passages=tuple(found), brief=brief, cues=())


def _laid(
    passage: Passage, bars: int, was: Passage | None, frame: Frame, craft: Craft
) -> Passage | None:
    """Return `passage` with so many bars and, where it is not as it was, new strokes."""
    is_same = was is not None and bars == was.bars
    if is_same and was is not None and _hands(passage) == _hands(was):
        return replace(passage, bars=bars)
    if passage.technique is None:
        return replace(passage, bars=bars)
    technique = craft.technique(passage.technique)
    beats = strokes.best(technique, frame, bars, passage.pressure)
    if beats is None:
        return None
    return replace(
        passage,
        bars=bars,
        beats_per_stroke=beats,
        first_landing_beat=strokes.first_landing(technique, beats),
        stretch=technique.level > frame.brief.level,
    )


def _hands(passage: Passage) -> tuple[str | None, int]:
    return passage.technique, passage.pressure


def _position(passage: Passage, old: Routine, at: int, before: Position) -> Position:
    """Return how the receiver lies: as before, but where the old routine changes about here."""
    has_moved = abs(passage.start_bar - at) > passage.bars
    return before if has_moved else passage.position


def grown_rows(layout: Layout, more: Mapping[int, int]) -> list[Row] | None:
    """Return the rows with so many bars more in each slot named; None where one cannot."""
    if not all(layout.slots[i].may_grow(by) for i, by in more.items()):
        return None
    return [slot.grown(more.get(i, 0)) for i, slot in enumerate(layout.slots)]
