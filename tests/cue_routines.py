"""Routines for the tests of words: shaped like plans, made by lot from the built-in repertoire."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from rondel.adapters.craft_files import builtin_craft
from rondel.model.brief import Brief
from rondel.model.repertoire import Technique
from rondel.model.routine import Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import Family, Intention, NamesShown, Position, Role, Side


@dataclass(slots=True)
class _Row:
    bar_seconds: float
    passages: list[Passage] = field(default_factory=list)

    @property
    def bars(self) -> int:
        return self.passages[-1].end_bar if self.passages else 0

    def add(
        self,
        technique: Technique | None,
        role: Role,
        seconds: float,
        *,
        side: Side = Side.BOTH,
        position: Position = Position.PRONE,
        pressure: int = 1,
        stretch: bool = False,
    ) -> None:
        low, high = technique.pressure if technique else (0, 2)
        bars = max(1, round(seconds / self.bar_seconds))
        self.passages.append(
            Passage(
                id=f"p{len(self.passages) + 1:02d}",
                technique=technique.id if technique else None,
                role=role,
                side=side,
                position=position,
                start_bar=self.bars,
                bars=bars,
                pressure=min(max(pressure, low), high),
                beats_per_stroke=Fraction(4),
                first_landing_beat=Fraction(2),
                stretch=stretch,
            )
        )


def lot_routine(
    seed: int,
    minutes: float = 15.0,
    intention: Intention = Intention.SETTLE,
    bpm: int = 60,
    names: NamesShown = NamesShown.PLAIN,
) -> Routine:
    """Return a routine of about `minutes`; equal arguments give equal routines.

    It has every kind of passage, but keeps no rule of the craft beyond their order.
    """
    lot = np.random.default_rng(seed)
    all_of_them = builtin_craft().techniques
    prone = [t for t in all_of_them if Position.PRONE in t.position and not t.helps_turn]
    moving = [t for t in prone if not t.family.is_held]
    held = [t for t in prone if t.family.is_held and t.pressure[0] == 0]
    gliding = [t for t in prone if t.family is Family.GLIDING and not t.lateral and t.refrain]
    deep = [t for t in moving if t.pressure[1] >= 4]

    def pick(row: list[Technique]) -> Technique:
        return row[int(lot.integers(len(row)))]

    scale = min(1.0, minutes / 6)
    row = _Row(bar_seconds=240.0 / bpm)
    home = (pick(gliding), pick(held))

    def refrain() -> None:
        row.add(home[0], Role.REFRAIN, 36 * scale, pressure=2)
        row.add(home[1], Role.REFRAIN, 16 * scale, pressure=0)

    def work(technique: Technique, role: Role, *, stretch: bool = False) -> None:
        seconds = float(lot.uniform(30 * scale, 90))
        pressure = int(lot.integers(1, 4))
        if role is Role.PEAK:
            pressure = 4
        for side in (Side.LEFT, Side.RIGHT) if technique.lateral else (Side.BOTH,):
            row.add(technique, role, seconds, side=side, pressure=pressure, stretch=stretch)
            if role is Role.PEAK:
                soft = next(t for t in moving if t.pressure[0] <= 2 and t.lateral)
                row.add(soft, Role.REST, seconds / 2, side=side, pressure=2)

    end = minutes * 60 - 75 * scale
    row.add(pick(held), Role.ARRIVE, 20 * scale, pressure=0)
    row.add(pick(gliding), Role.ARRIVE, 30 * scale, pressure=1)
    has_peaked = False
    while row.bars * row.bar_seconds < end:
        refrain()
        for _ in range(int(lot.integers(1, 3))):
            work(pick(moving), Role.WORK)
        if not has_peaked and row.bars * row.bar_seconds > 0.55 * end:
            work(pick(deep), Role.PEAK)
            has_peaked = True
            refrain()
            work(pick(moving), Role.WORK, stretch=True)
            row.add(None, Role.OPEN, 30 * scale)
    refrain()
    row.add(pick(gliding), Role.CLOSE, 40 * scale, pressure=1)
    row.add(pick(held), Role.CLOSE, 35 * scale, pressure=0)
    brief = Brief(
        title="Lamplight",
        minutes=Fraction(minutes).limit_denominator(10),
        intention=intention,
        level=2,
        seed=seed,
        names=names,
    )
    return Routine(
        title="Lamplight",
        seed=seed,
        beats_per_bar=4,
        tempo=(Tempo(bar=0, bpm=Fraction(bpm)),),
        bars=row.bars,
        passages=tuple(row.passages),
        brief=brief,
    )
