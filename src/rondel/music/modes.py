"""Scales, chords and what the intention makes of them.

Which mode, register and density suit an intention is common practice, no source; that faster,
denser music arouses and sparse music calms follows Bernardi 2006, Heart 92:445-452.
"""

from __future__ import annotations

from dataclasses import dataclass

from rondel.model.words import Intention
from rondel.music.chance import Chance

#: Semitones above the root of the church modes.
MODES = {
    "ionian": (0, 2, 4, 5, 7, 9, 11),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "aeolian": (0, 2, 3, 5, 7, 8, 10),
}

#: Five degrees of each mode among which a melody sounds at rest.
FIVE_TONES = {
    "ionian": (0, 1, 2, 4, 5),
    "dorian": (0, 2, 3, 4, 6),
    "lydian": (0, 1, 2, 4, 5),
    "mixolydian": (0, 1, 2, 4, 5),
    "aeolian": (0, 2, 3, 4, 6),
}

#: Rows of chords, as degrees from 0, that avoid each mode's diminished chord.
ROWS = {
    "ionian": ((0, 3, 5, 3), (0, 5, 3, 4), (0, 2, 3, 0), (5, 3, 0, 4), (0, 1, 3, 0)),
    "dorian": ((0, 3, 0, 6), (0, 2, 3, 0), (0, 6, 3, 0), (0, 1, 2, 3)),
    "lydian": ((0, 1, 0, 1), (0, 4, 1, 0), (0, 5, 1, 4), (0, 2, 4, 1)),
    "mixolydian": ((0, 6, 3, 0), (0, 3, 6, 3), (0, 4, 3, 6), (0, 1, 6, 0)),
    "aeolian": ((0, 5, 0, 5), (0, 3, 5, 0), (0, 5, 2, 6), (0, 2, 5, 3)),
}

NAMES = ("C", "D flat", "D", "E flat", "E", "F", "G flat", "G", "A flat", "A", "B flat", "B")


@dataclass(frozen=True, slots=True, kw_only=True)
class Character:
    """What an intention asks of the music.

    `roots` are MIDI pitches for the drone; `chord_seconds` how long a harmony stays;
    `density` scales the piano's tones a bar; `lift` is added to the level of every passage.
    """

    modes: tuple[str, ...]
    roots: tuple[int, ...]
    chord_seconds: float
    density: float
    lift: float
    colour: int  # a degree above the chord's root, added to the triad


CHARACTERS = {
    Intention.SETTLE: Character(
        modes=("ionian", "dorian"),
        roots=(38, 40, 41, 43),
        chord_seconds=8.0,
        density=1.0,
        lift=0.0,
        colour=8,
    ),
    Intention.WAKE: Character(
        modes=("lydian", "mixolydian"),
        roots=(40, 42, 43, 45),
        chord_seconds=5.0,
        density=1.6,
        lift=0.12,
        colour=8,
    ),
    Intention.SLEEP: Character(
        modes=("aeolian", "ionian"),
        roots=(36, 38, 39, 41),
        chord_seconds=12.0,
        density=0.6,
        lift=-0.12,
        colour=8,
    ),
    Intention.CLOSENESS: Character(
        modes=("ionian", "aeolian"),
        roots=(37, 39, 41, 44),
        chord_seconds=8.0,
        density=1.1,
        lift=0.03,
        colour=6,
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """A root, as the MIDI pitch of the drone, and a mode."""

    root: int
    mode: str

    @property
    def name(self) -> str:
        return f"{NAMES[self.root % 12]} {self.mode}"

    def pitch(self, degree: int, octave: int = 0) -> int:
        """Return the pitch of a scale degree (0 is the root; any whole number)."""
        rounds, step = divmod(degree, 7)
        return self.root + MODES[self.mode][step] + 12 * (rounds + octave)

    def chord(self, degree: int, colour: int) -> tuple[int, ...]:
        """Return the pitch classes of the chord on `degree`, its root first."""
        steps = (0, 2, 4, colour)
        return tuple(dict.fromkeys(self.pitch(degree + step) % 12 for step in steps))

    def five_tones(self, index: int) -> int:
        """Return the pitch at `index` of the melody's five tones (0 is the root)."""
        rounds, place = divmod(index, 5)
        return self.pitch(FIVE_TONES[self.mode][place], rounds)


def choose_key(character: Character, chance: Chance) -> Key:
    """Return the key of a piece."""
    return Key(root=chance.pick(character.roots, "root"), mode=chance.pick(character.modes, "mode"))
