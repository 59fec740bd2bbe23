"""Chords over phrases that begin and end with the passages, and voices led through them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise, product

from rondel.model.routine import Passage, Routine
from rondel.model.words import Role
from rondel.music.chance import Chance
from rondel.music.modes import ROWS, Character, Key

#: The range of the middle voices, MIDI pitches.
LOWEST, HIGHEST = 50, 74


@dataclass(frozen=True, slots=True, kw_only=True)
class Chord:
    """One harmony over whole bars. `voices` are the pitches of the middle voices, rising."""

    start_bar: int
    bars: int
    degree: int
    classes: tuple[int, ...]
    voices: tuple[int, ...]
    passage: Passage

    @property
    def end_bar(self) -> int:
        return self.start_bar + self.bars

    def nearest(self, pitch: int) -> int:
        """Return the tone of this chord nearest to `pitch`; ties go down."""
        found = (p for p in range(pitch - 6, pitch + 7) if p % 12 in self.classes)
        return min(found, key=lambda p: (abs(p - pitch), p))

    def root_near(self, pitch: int) -> int:
        """Return the chord's root in the octave that centres on `pitch`."""
        return pitch - 6 + (self.classes[0] - (pitch - 6)) % 12


def lead(before: tuple[int, ...], classes: tuple[int, ...]) -> tuple[int, ...]:
    """Return a voicing of `classes` that moves least from `before`: no crossing, no doubling."""
    pitches = [[p for p in range(LOWEST, HIGHEST + 1) if p % 12 == c] for c in classes]
    open_ones = (
        tuple(sorted(v))
        for v in product(*pitches)
        if min(b - a for a, b in pairwise(sorted(v))) > 1
    )

    def cost(voices: tuple[int, ...]) -> tuple[float, tuple[int, ...]]:
        moved = sum(abs(a - b) ** 1.3 for a, b in zip(before, voices, strict=False))
        spread = max(b - a for a, b in pairwise(voices))
        drift = abs(sum(voices) / len(voices) - 61)
        return moved + 0.8 * max(0, spread - 9) + 0.6 * drift, voices

    return min(open_ones, key=cost)


def split(bars: int, into: int) -> list[int]:
    """Return `into` lengths that fill `bars`, as even as whole bars allow.

    >>> split(9, 4)
    [2, 2, 2, 3]
    """
    edges = [i * bars // into for i in range(into + 1)]
    return [b - a for a, b in pairwise(edges)]


def harmonise(
    routine: Routine, key: Key, character: Character, chance: Chance
) -> tuple[Chord, ...]:
    """Return the chords of the whole routine, gapless. Every return of the refrain has the same."""
    rows = ROWS[key.mode]
    home_row = chance.pick(rows, "home row")
    each = max(1, round(character.chord_seconds / routine.clock.bar_seconds()))
    chords: list[Chord] = []
    voices: tuple[int, ...] = (52, 57, 61, 66)
    line = routine.line
    for i, passage in enumerate(line):
        is_home = passage.role is Role.REFRAIN
        starts_home = is_home and (i == 0 or line[i - 1].role is not Role.REFRAIN)
        heads_home = not is_home and i + 1 < len(line) and line[i + 1].role is Role.REFRAIN
        row = home_row if is_home else chance.pick(rows, "row", passage.technique, passage.id)
        lengths = split(passage.bars, max(1, round(passage.bars / each)))
        at = passage.start_bar
        for k, bars in enumerate(lengths):
            degree = row[k % len(row)]
            if passage.role in (Role.ARRIVE, Role.CLOSE):
                degree = (0, row[1], 0, row[3])[k % 4]
            if k == len(lengths) - 1 and (heads_home or passage is line[-1]):
                degree = 0 if passage is line[-1] else chance.pick((3, 4), "lead", passage.id)
            classes = key.chord(degree, character.colour)
            if starts_home and k == 0:
                voices = (52, 57, 61, 66)  # home begins from one place, so it returns alike
            voices = lead(voices, classes)
            chords.append(
                Chord(
                    start_bar=at,
                    bars=bars,
                    degree=degree,
                    classes=classes,
                    voices=voices,
                    passage=passage,
                )
            )
            at += bars
    return tuple(chords)


def chord_at(chords: tuple[Chord, ...], bar: int | Fraction) -> Chord:
    """Return the chord that sounds in `bar` (the last one past the end)."""
    return next((c for c in chords if bar < c.end_bar), chords[-1])
