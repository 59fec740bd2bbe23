"""Scales, chords and what the intention makes of them.

Which mode, register and density suit an intention is common practice, no source; that faster,
denser music arouses and sparse music calms follows Bernardi 2006, Heart 92:445-452.
"""

from __future__ import annotations

from dataclasses import dataclass

from rondel.model.words import Intention
from rondel.music.chance import Chance

#: Semitones above the root of the six church modes.
MODES = {
    "ionian": (0, 2, 4, 5, 7, 9, 11),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "aeolian": (0, 2, 3, 5, 7, 8, 10),
}

#: Where the chord on each degree (counted from 0) may go. No mode's diminished chord is used.
#: In ionian these are the ordinary progressions of tonal harmony; in the others they turn round
#: the degree that sets the mode apart (common practice, no source).
MOVES: dict[str, dict[int, tuple[int, ...]]] = {
    "ionian": {0: (5, 3, 1, 2, 4), 1: (4, 3), 2: (5, 3), 3: (0, 4, 1), 4: (0, 5), 5: (3, 1, 2, 4)},
    "dorian": {0: (3, 6, 2, 1, 4), 1: (0, 3, 4), 2: (3, 6), 3: (0, 6, 1), 4: (0, 3), 6: (3, 0, 2)},
    "phrygian": {
        0: (5, 1, 3, 6, 2),
        1: (0, 6, 3),
        2: (5, 1, 3),
        3: (1, 6, 0),
        5: (3, 1, 2),
        6: (0, 5, 2),
    },
    "lydian": {0: (1, 4, 5, 2), 1: (0, 4, 5), 2: (1, 5, 4), 4: (0, 1, 5), 5: (1, 4, 2)},
    "mixolydian": {
        0: (6, 3, 4, 1, 5),
        1: (3, 6, 4),
        3: (0, 6, 1),
        4: (3, 0, 1),
        5: (3, 1, 6),
        6: (3, 0),
    },
    "aeolian": {
        0: (5, 3, 2, 6, 4),
        2: (5, 3, 6),
        3: (0, 4, 6),
        4: (0, 5, 3),
        5: (2, 6, 3),
        6: (0, 2, 5),
    },
}

#: Chords on which a phrase may stay open; from each one the way leads to the first.
OPEN = {
    "ionian": (4, 3),
    "dorian": (3, 6, 4),
    "phrygian": (6, 1, 3),
    "lydian": (1, 4),
    "mixolydian": (6, 3, 4),
    "aeolian": (4, 6, 3),
}

#: A tone that a chord may take besides its triad, as a degree above the chord's root.
NINTH, SEVENTH, SIXTH = 8, 6, 5

NAMES = ("C", "D flat", "D", "E flat", "E", "F", "G flat", "G", "A flat", "A", "B flat", "B")


@dataclass(frozen=True, slots=True, kw_only=True)
class Character:
    """What an intention asks of the music.

    `roots` are MIDI pitches for the drone; `chord_seconds` how long a harmony stays;
    `density` scales the piano's tones a bar; `lift` is added to the level of every passage.
    `colours` are tones added to triads, of which a piece takes one first, the rest where that one
    would grate. `sings_about` is the middle of the piano's upper voice, `pickups` the share of its
    tones that are led into; `contours` how its phrases may run; `pulse` is added to the velocity of
    the pulse; `is_duet` gives the song a second voice.
    """

    modes: tuple[str, ...]
    roots: tuple[int, ...]
    chord_seconds: float
    density: float
    lift: float
    colours: tuple[int, ...]
    sings_about: int
    pickups: float
    contours: tuple[str, ...]
    pulse: int = 0
    is_duet: bool = False


CHARACTERS = {
    Intention.SETTLE: Character(
        modes=("ionian", "dorian", "mixolydian"),
        roots=(38, 40, 41, 43),
        chord_seconds=6.0,
        density=1.0,
        lift=0.0,
        colours=(NINTH, SIXTH, SEVENTH),
        sings_about=72,
        pickups=0.35,
        contours=("arch", "fall", "wave"),
    ),
    Intention.WAKE: Character(
        modes=("lydian", "mixolydian", "ionian"),
        roots=(40, 42, 43, 45),
        chord_seconds=4.5,
        density=1.6,
        lift=0.12,
        colours=(NINTH, SIXTH),
        sings_about=75,
        pickups=0.6,
        contours=("rise", "arch", "wave"),
        pulse=3,
    ),
    Intention.SLEEP: Character(
        modes=("aeolian", "ionian", "dorian", "phrygian"),
        roots=(36, 38, 39, 41),
        chord_seconds=9.0,
        density=0.55,
        lift=-0.12,
        colours=(NINTH, SEVENTH),
        sings_about=69,
        pickups=0.1,
        contours=("fall", "fall", "arch"),
        pulse=-5,
    ),
    Intention.CLOSENESS: Character(
        modes=("ionian", "aeolian", "lydian", "dorian"),
        roots=(37, 39, 41, 44),
        chord_seconds=7.0,
        density=0.95,
        lift=0.03,
        colours=(SEVENTH, NINTH, SIXTH),
        sings_about=72,
        pickups=0.3,
        contours=("arch", "wave", "fall"),
        is_duet=True,
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

    def triad(self, degree: int) -> tuple[int, int, int]:
        """Return the pitch classes of root, third and fifth of the chord on `degree`."""
        root, third, fifth = (self.pitch(degree + step) % 12 for step in (0, 2, 4))
        return root, third, fifth

    def chord(
        self, degree: int, colours: tuple[int, ...], *, is_clear: bool = False
    ) -> tuple[int, ...]:
        """Return the pitch classes of the chord on `degree`, its root first.

        To the triad comes the first of `colours` that stands a semitone above none of its tones,
        where it would grate; the bare triad where each would. A clear chord has no semitone at all.
        """
        triad = self.triad(degree)
        for colour in colours:
            added = self.pitch(degree + colour) % 12
            is_free = all((tone + 1) % 12 != added for tone in triad)
            if is_free and not (is_clear and any((added + 1) % 12 == tone for tone in triad)):
                return (*triad, added)
        return triad

    def step_from(self, pitch: int, steps: int) -> int:
        """Return the tone `steps` scale steps above (below, if negative) `pitch`.

        A pitch outside the mode counts as the tone of the mode just below it.
        """
        rounds, over = divmod(pitch - self.root, 12)
        degree = max(d for d, semitones in enumerate(MODES[self.mode]) if semitones <= over)
        return self.pitch(7 * rounds + degree + steps)


def choose_key(character: Character, chance: Chance) -> Key:
    """Return the key of a piece."""
    return Key(root=chance.pick(character.roots, "root"), mode=chance.pick(character.modes, "mode"))
