"""How the load of a routine is spread over the giver's hands and their parts.

`hand_load(routine, craft)` gives relative load by hand and contact. Shares of it may be told, and
how one routine compares with another; the numbers themselves mean nothing and say nothing of what
is safe for anyone.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from rondel.hands.strain import Task, composite
from rondel.hands.work import Hand, hands_at_work, task_of
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.words import Contact


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of one hand: `minutes` at work, and its load relative to the others'."""

    hand: Hand
    contact: Contact
    minutes: float
    load: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HandLoad:
    """The parts of both hands that work in a routine, in a fixed order.

    `unknown_minutes` are those left open, or with techniques that the craft does not know.
    """

    parts: tuple[Part, ...]
    unknown_minutes: float = 0.0

    @property
    def total(self) -> float:
        return sum(p.load for p in self.parts)

    def share(self, *, hand: Hand | None = None, contact: Contact | None = None) -> float:
        """Return the share (0 to 1) of a hand, of a contact, or of a contact of one hand."""
        if not self.total:
            return 0.0
        mine = (
            p.load
            for p in self.parts
            if (hand is None or p.hand is hand) and (contact is None or p.contact is contact)
        )
        return sum(mine) / self.total

    def shares(self) -> tuple[tuple[Contact, float], ...]:
        """Return the share of every contact that works, the most first."""
        used = dict.fromkeys(p.contact for p in self.parts)
        found = [(contact, self.share(contact=contact)) for contact in used]
        return tuple(sorted(found, key=lambda item: (-item[1], item[0])))


def hand_load(routine: Routine, craft: Craft) -> HandLoad:
    """Return the load of `routine`, worked out from its strokes.

    For every contact of every hand: the composite index of all that it does while it is at work,
    times the minutes that it is at work.
    """
    done: dict[tuple[Hand, Contact], list[tuple[Task, float]]] = defaultdict(list)
    unknown = 0.0
    for passage in routine.passages:
        minutes = routine.seconds_of(passage) / 60
        technique = _technique(passage, craft)
        if technique is None:
            unknown += minutes
            continue
        beats = float(passage.beats_per_stroke) / (passage.bars * routine.beats_per_bar)
        stroke_seconds = min(minutes * 60 * beats, minutes * 60)
        task = task_of(technique, passage.side, passage.pressure, stroke_seconds)
        for hand in hands_at_work(technique, passage.side, passage.position):
            done[hand, technique.contact].append((task, minutes))
    parts = tuple(
        _part(hand, contact, done[hand, contact])
        for hand in Hand
        for contact in Contact
        if (hand, contact) in done
    )
    return HandLoad(parts=parts, unknown_minutes=unknown)


def _technique(passage: Passage, craft: Craft) -> Technique | None:
    id = passage.technique
    return craft.technique(id) if id is not None and craft.has_technique(id) else None


def _part(hand: Hand, contact: Contact, done: list[tuple[Task, float]]) -> Part:
    """Return the part with its load; efforts alike, in several passages, are one task."""
    minutes = sum(m for _, m in done)
    counts: dict[tuple[float, float], float] = defaultdict(float)
    for task, m in done:
        counts[task.effort, task.seconds] += task.per_minute * m
    tasks = [
        Task(effort=effort, per_minute=count / minutes, seconds=seconds)
        for (effort, seconds), count in counts.items()
    ]
    return Part(hand=hand, contact=contact, minutes=minutes, load=composite(tasks) * minutes)
