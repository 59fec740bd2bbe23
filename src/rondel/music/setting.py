"""What every layer of one piece is written from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.spans import Crossing, times_scale
from rondel.model.words import Family, Layer, Role
from rondel.music.chance import Chance
from rondel.music.harmony import Chord
from rondel.music.modes import Character, Key
from rondel.music.phrases import Phrase
from rondel.music.score import MOST_NUDGE_MS, Note

#: How full the music stands at each pressure (common practice, no source).
LEVEL_AT_PRESSURE = (0.15, 0.28, 0.44, 0.62, 0.82, 0.9)
ROLE_LEVEL = {Role.ARRIVE: 0.16, Role.CLOSE: 0.1, Role.REST: 0.26, Role.OPEN: 0.38}

#: The level from which the bass plays.
BASS_FROM = 0.4

#: The last seconds are silent, and before them the sound only thins (scaled in short forms).
SILENT_SECONDS = 4.0


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One routine with its key, its chords and its choices."""

    routine: Routine
    craft: Craft
    key: Key
    character: Character
    chance: Chance
    chords: tuple[Chord, ...]
    by_bar: tuple[Chord, ...]  # the chord of every bar
    phrases: tuple[Phrase, ...]
    heard: tuple[int, int]
    crossings: tuple[Crossing, ...]

    @property
    def meter(self) -> int:
        return self.routine.beats_per_bar

    @property
    def beats(self) -> int:
        return self.routine.clock.beats

    def chord_at(self, beat: Fraction | int) -> Chord:
        """Return the chord that sounds at `beat` (the last one past the end)."""
        return self.by_bar[min(int(beat // self.meter), len(self.by_bar) - 1)]

    def technique(self, passage: Passage) -> Technique | None:
        """Return the technique of `passage`, if it has one that the craft knows."""
        if passage.technique is None or not self.craft.has_technique(passage.technique):
            return None
        return self.craft.technique(passage.technique)

    def level(self, passage: Passage) -> float:
        """Return how full the music stands in `passage`, 0 to 1; it follows the pressure."""
        if passage.role is Role.REFRAIN:
            level = 0.36
        elif passage.role in ROLE_LEVEL:
            level = ROLE_LEVEL[passage.role]
        else:
            level = LEVEL_AT_PRESSURE[passage.pressure]
        if passage.role is Role.PEAK:
            level = max(level + 0.15, 0.8)
        if passage.role in (Role.ARRIVE, Role.CLOSE):
            return level
        return min(1.0, max(0.05, level + self.character.lift))

    def has_bass(self, chord: Chord) -> bool:
        """Return whether the bass plays under `chord`: in firm work, within the heard beats."""
        start, end = chord.start_bar * self.meter, chord.end_bar * self.meter
        is_firm = self.level(chord.passage) >= BASS_FROM
        return is_firm and self.is_heard(start) and self.is_heard(end - 1)

    def is_rhythmic(self, passage: Passage) -> bool:
        technique = self.technique(passage)
        return technique is not None and technique.is_rhythmic

    def is_held(self, passage: Passage) -> bool:
        technique = self.technique(passage)
        return technique is not None and technique.family in (Family.HOLDING, Family.EMBRACE)

    def over(self, passage: Passage) -> Passage | None:
        """Return the quick upper layer that shares bars with `passage`, if there is one."""
        if passage.layer is not Layer.UNDER:
            return None
        return next(
            (
                p
                for p in self.routine.passages
                if p.layer is Layer.OVER
                and p.start_bar < passage.end_bar
                and passage.start_bar < p.end_bar
            ),
            None,
        )

    def is_heard(self, beat: Fraction | int) -> bool:
        return self.heard[0] <= beat < self.heard[1]

    def pedalled(self, note: Note) -> Note:
        """Return `note` let go where the harmony leaves it, as a pianist's foot would.

        A tone that begins within a beat of the change may ring for a beat.
        """
        bar = int(note.start // self.meter)
        while (bar + 1) * self.meter < note.end and bar + 1 < len(self.by_bar):
            bar += 1
            if note.pitch % 12 not in self.by_bar[bar].classes:
                end = max(Fraction(bar * self.meter), note.start + 1)
                return replace(note, beats=min(note.beats, end - note.start))
        return note

    def phrases_in(self, passage: Passage) -> tuple[Phrase, ...]:
        """Return the phrases that begin in `passage`."""
        return tuple(p for p in self.phrases if passage.start_bar <= p.start_bar < passage.end_bar)

    def place_in(self, passage: Passage, beat: Fraction | int) -> Fraction:
        """Return the beats from the start of `passage` to `beat`, for keys of choices."""
        return Fraction(beat) - self.routine.start_beat(passage)

    def nudge(self, most: int, *keys: object) -> int:
        """Return a liberty of touch in milliseconds, at most `most`; small ones are likelier."""
        most = min(most, MOST_NUDGE_MS)
        one, other = (self.chance.unit("nudge", *keys, k) for k in (0, 1))
        return round(most * (one + other - 1))

    @property
    def last_sound_beat(self) -> Fraction:
        """The beat at which the last tone has wholly gone."""
        clock = self.routine.clock
        silent = SILENT_SECONDS * times_scale(self.routine)
        return Fraction(clock.beat_at(clock.total_seconds - silent)).limit_denominator(64)


def beats_in(setting: Setting, seconds: float) -> Fraction:
    """Return how many beats `seconds` fill at the mean tempo, to a sixteenth."""
    clock = setting.routine.clock
    return Fraction(round(seconds * clock.beats / clock.total_seconds * 16), 16)
