"""Routines for the tests of sound: rows of passages like a page of the book, of any length."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from rondel.adapters.craft_files import builtin_craft
from rondel.model.brief import Brief
from rondel.model.routine import Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import Intention, Layer, Position, Role, Side

CRAFT = builtin_craft()

ARRIVE, REFRAIN, WORK, PEAK = Role.ARRIVE, Role.REFRAIN, Role.WORK, Role.PEAK
REST, OPEN, CLOSE = Role.REST, Role.OPEN, Role.CLOSE
L, R, B = Side.LEFT, Side.RIGHT, Side.BOTH

#: (technique, role, side, bars, pressure, beats a stroke, first landing) of fifteen minutes.
FIFTEEN = (
    ("winter-coat", ARRIVE, B, 6, 0, 24, 0),
    ("wide-wings", ARRIVE, B, 18, 1, 12, 6),
    ("slow-river", REFRAIN, B, 9, 2, 12, 6),
    ("long-scarf", REFRAIN, B, 4, 0, 16, 0),
    ("round-hill", WORK, L, 15, 2, 5, 2),
    ("round-hill", WORK, R, 15, 2, 5, 2),
    ("big-dough", WORK, L, 9, 3, 2, 1),
    ("big-dough", WORK, R, 9, 3, 2, 1),
    ("slow-river", REFRAIN, B, 9, 2, 12, 6),
    ("long-scarf", REFRAIN, B, 4, 0, 16, 0),
    ("river-clay", WORK, L, 14, 2, 2, 1),
    ("river-clay", WORK, R, 14, 2, 2, 1),
    ("pony-trot", WORK, B, 8, 2, "1/2", 0),
    ("slow-river", REFRAIN, B, 9, 2, 12, 6),
    ("long-scarf", REFRAIN, B, 4, 0, 16, 0),
    ("hip-dune", PEAK, L, 10, 4, 8, 4),
    ("round-hill", REST, L, 5, 2, 5, 2),
    ("hip-dune", PEAK, R, 10, 4, 8, 4),
    ("round-hill", REST, R, 5, 2, 5, 2),
    ("slow-river", REFRAIN, B, 9, 2, 12, 6),
    ("long-scarf", REFRAIN, B, 4, 0, 16, 0),
    ("sock-fold", WORK, L, 5, 2, 10, 5),
    ("sock-fold", WORK, R, 5, 2, 10, 5),
    (None, OPEN, B, 9, 2, 4, 0),
    ("wide-wings", CLOSE, B, 12, 1, 12, 6),
    ("winter-coat", CLOSE, B, 6, 0, 24, 0),
)

#: Four minutes: every layer of music has a place in it.
FOUR = (
    ("wide-wings", ARRIVE, B, 15, 1, 12, 6),
    ("slow-river", REFRAIN, B, 6, 2, 12, 6),
    ("long-scarf", REFRAIN, B, 2, 0, 8, 0),
    ("pony-trot", WORK, B, 5, 2, "1/2", 0),
    ("big-dough", WORK, L, 3, 3, 2, 1),
    ("big-dough", WORK, R, 3, 3, 2, 1),
    ("slow-river", REFRAIN, B, 6, 2, 12, 6),
    ("long-scarf", REFRAIN, B, 2, 0, 8, 0),
    ("hip-dune", PEAK, L, 4, 4, 8, 4),
    ("round-hill", REST, L, 2, 2, 4, 2),
    ("hip-dune", PEAK, R, 4, 4, 8, 4),
    ("round-hill", REST, R, 2, 2, 4, 2),
    ("wide-wings", CLOSE, B, 9, 1, 12, 6),
)


def _brief(minutes: Fraction, intention: Intention, seed: int) -> Brief:
    return Brief(title="Lamplight", minutes=minutes, intention=intention, level=2, seed=seed)


def row_of(
    rows: tuple[tuple[Any, ...], ...],
    *,
    bpm: Fraction | int = 60,
    intention: Intention = Intention.SETTLE,
    seed: int = 7,
    over: tuple[str, str] | None = None,
) -> Routine:
    """Return the routine of `rows`. `over` adds a quick upper layer (technique, beats a stroke)
    to every passage of the peak."""
    passages: list[Passage] = []
    at = 0
    for technique, role, side, bars, pressure, step, landing in rows:
        passage = Passage(
            id=f"p{len(passages) + 1:02d}",
            technique=technique,
            role=role,
            side=side,
            position=Position.PRONE,
            start_bar=at,
            bars=bars,
            pressure=pressure,
            beats_per_stroke=Fraction(step),
            first_landing_beat=Fraction(landing),
        )
        at = passage.end_bar
        if over and role is PEAK:
            passages.append(replace(passage, layer=Layer.UNDER))
            quick = replace(
                passage,
                id=f"{passage.id}o",
                technique=over[0],
                layer=Layer.OVER,
                pressure=1,
                beats_per_stroke=Fraction(over[1]),
                first_landing_beat=Fraction(0),
            )
            passages.append(quick)
        else:
            passages.append(passage)
    minutes = Fraction(at * 4) / Fraction(bpm)
    return Routine(
        title="Lamplight",
        seed=seed,
        beats_per_bar=4,
        tempo=(Tempo(bar=0, bpm=Fraction(bpm)),),
        bars=at,
        passages=tuple(passages),
        brief=_brief(minutes, intention, seed),
    )


def fifteen_minutes(**wishes: Any) -> Routine:
    """Return a routine of about a quarter of an hour."""
    return row_of(FIFTEEN, **wishes)


def four_minutes(**wishes: Any) -> Routine:
    """Return a short routine with a refrain, rhythm, a peak and a close."""
    return row_of(FOUR, **wishes)
