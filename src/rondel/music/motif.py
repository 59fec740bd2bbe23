"""The refrain's own melody: one motif, one timbre, the same at every return, and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from rondel.music.phrases import Phrase, Unit
from rondel.music.score import Note
from rondel.music.setting import Setting
from rondel.music.tune import TuneTone, invent

#: Bars of one statement: two halves of two bars.
STATEMENT_BARS = 4

#: Where a tone stands among the others, in velocity: the first tones lead to the held one.
TOUCH, HELD_TOUCH, ECHO_SOFTER, SECOND_SOFTER = 64, 73, 14, 5

#: The middle of the motif's voice, above the pad: its octave is the one that lies nearest.
SINGS_ABOUT = 77


def tune_of(setting: Setting) -> tuple[TuneTone, ...]:
    """Return the motif of a piece, in tones from its own beginning; none without a refrain."""
    whole = next((p for p in setting.phrases if p.unit is Unit.WHOLE), None)
    if whole is None:
        return ()
    chords = tuple(setting.by_bar[bar].classes for bar in range(whole.start_bar, whole.end_bar))
    return invent(setting.key, chords, setting.meter, setting.chance)


def sung(setting: Setting, tune: tuple[TuneTone, ...]) -> tuple[int, ...]:
    """Return the pitches of the motif in its voice, tone by tone."""
    pitches = [setting.key.pitch(tone.step) for tone in tune]
    middle = (max(pitches) + min(pitches)) / 2
    octaves = round((SINGS_ABOUT - middle) / 12)
    return tuple(p + 12 * octaves for p in pitches)


def _statement(setting: Setting, tune: tuple[TuneTone, ...], phrase: Phrase) -> list[Note]:
    """Return the tones of the motif that fit into `phrase`: all, or in an echo its first half."""
    at = Fraction(phrase.start_bar * setting.meter)
    end = Fraction(phrase.end_bar * setting.meter)
    top = max(tone.step for tone in tune)
    notes = []
    for place, (tone, pitch) in enumerate(zip(tune, sung(setting, tune), strict=True)):
        following = tune[place + 1] if place + 1 < len(tune) else None
        is_echo = phrase.unit is Unit.ECHO
        if at + tone.start + tone.beats > end or (is_echo and tone.half):
            continue
        is_held = following is None or following.half != tone.half
        velocity = HELD_TOUCH if is_held or tone.step == top else TOUCH
        velocity += setting.chance.between(-3, 3, "motif touch", tone.start)
        velocity -= SECOND_SOFTER * tone.half + (ECHO_SOFTER if is_echo else 0)
        notes.append(Note(start=at + tone.start, beats=tone.beats, pitch=pitch, velocity=velocity))
    return notes


def _freed(setting: Setting, notes: list[Note], start: int) -> list[Note]:
    """Return the tones moved off the grid: where no beat is heard, the motif gives none either.

    Pitch, length and order stay; the same liberties are taken at every such return.
    """
    found = []
    for place, note in enumerate(notes):
        after = notes[place + 1] if place + 1 < len(notes) else None
        if setting.is_heard(note.start):
            found.append(note)
            continue
        gap = after.start - note.start if after else note.beats
        room = min(Fraction(3, 4), gap * Fraction(4, 5))
        drift = Fraction(setting.chance.between(0, 16, "free", note.start - start), 16) * room
        at = note.start + Fraction(3, 16) + drift
        found.append(replace(note, start=at, velocity=note.velocity - 8))
    return found


def write_motif(setting: Setting) -> tuple[Note, ...]:
    """Return the motif at every return: whole, then its first half as an echo, and again.

    A statement that would not end within its phrase is cut to the tones that do.
    """
    tune = tune_of(setting)
    notes: list[Note] = []
    for phrase in setting.phrases:
        if phrase.unit is not Unit.NONE and tune:
            start = phrase.row[0].start_bar * setting.meter
            notes += _freed(setting, _statement(setting, tune, phrase), start)
    return tuple(sorted(notes, key=lambda n: (n.start, n.pitch)))
