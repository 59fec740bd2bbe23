"""The sustained layers: drone, pad, bass and strings. They enter as the pressure rises."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import groupby

from rondel.model.words import Role
from rondel.music.harmony import Chord
from rondel.music.score import Note
from rondel.music.setting import Setting, beats_in

#: Levels from which the fuller layers join.
BASS_FROM, STRINGS_FROM = 0.4, 0.58

#: The slowest release of any sustained instrument, in seconds: see instruments/sustained.py.
TAIL_SECONDS = 5.0


def _closing(setting: Setting) -> tuple[int, Fraction]:
    """Return the beat where the last passage begins and the beat by which tones are let go."""
    last = setting.routine.line[-1]
    start = setting.routine.start_beat(last)
    room = setting.last_sound_beat - start
    tail = min(beats_in(setting, TAIL_SECONDS), room / 2)
    return start, setting.last_sound_beat - tail


def write_drone(setting: Setting) -> tuple[Note, ...]:
    """Return the ground tone and its fifth, from the first beat to the last sound.

    Where the music is at home they rest on the key; they follow no chord, so they can be held.
    """
    closing, let_go = _closing(setting)
    notes = []
    step = max(1, beats_in(setting, 32).__ceil__())
    root = setting.key.root
    for at in range(0, int(let_go), step):
        end = min(Fraction(at + step), let_go)
        level = setting.level(setting.routine.passage_at(at))
        velocity = 58 + int(10 * level)
        notes.append(Note(start=Fraction(at), beats=end - at, pitch=root, velocity=velocity))
        if at < closing:  # the fifth leaves before the root
            fifth_end = min(end, Fraction(max(closing, at + 1)))
            fifth = Note(
                start=Fraction(at), beats=fifth_end - at, pitch=root + 7, velocity=velocity - 18
            )
            notes.append(fifth)
    return tuple(notes)


def _arc(chord: Chord) -> int:
    """Return how much a chord leans out of its passage: an arch, fullest past the middle."""
    passage = chord.passage
    share = (chord.start_bar - passage.start_bar) / passage.bars
    return round(7 * math.sin(math.pi * min(1.0, 0.15 + share) ** 1.3))


def write_pad(setting: Setting) -> tuple[Note, ...]:
    """Return the middle voices. A voice that stays from chord to chord is held on."""
    closing, let_go = _closing(setting)
    notes: list[Note] = []
    held: dict[int, tuple[Fraction, int]] = {}
    meter = setting.meter

    def release(pitch: int, at: Fraction) -> None:
        start, velocity = held.pop(pitch)
        if at > start:
            notes.append(Note(start=start, beats=at - start, pitch=pitch, velocity=velocity))

    for chord in setting.chords:
        at = Fraction(chord.start_bar * meter)
        if at >= let_go:
            break
        voices = chord.voices
        if at >= closing:  # one voice leaves with each chord of the close
            left = 3 - int(3 * (at - closing) / max(let_go - closing, Fraction(1)))
            voices = voices[: max(1, left)]
        is_start = chord.start_bar == chord.passage.start_bar
        for pitch in [p for p in held if p not in voices or is_start]:
            release(pitch, at)
        for place, pitch in enumerate(voices):
            if pitch not in held:
                velocity = 49 + int(26 * setting.level(chord.passage)) - 3 * place + _arc(chord)
                held[pitch] = (at, velocity)
    for pitch in list(held):
        release(pitch, let_go)
    return tuple(sorted(notes, key=lambda n: (n.start, n.pitch)))


def write_bass(setting: Setting) -> tuple[Note, ...]:
    """Return the roots below firm work, within the heard beats."""
    notes = []
    for chord in setting.chords:
        level = setting.level(chord.passage)
        start, end = chord.start_bar * setting.meter, chord.end_bar * setting.meter
        if level < BASS_FROM or not (setting.is_heard(start) and setting.is_heard(end - 1)):
            continue
        notes.append(
            Note(
                start=Fraction(start),
                beats=Fraction(end - start),
                pitch=chord.root_near(42),
                velocity=46 + int(24 * level),
            )
        )
    return tuple(notes)


def write_strings(setting: Setting) -> tuple[Note, ...]:
    """Return a slow upper line over the firmest work: one chord tone after another, by step."""
    notes = []
    for passage, group in groupby(setting.chords, key=lambda c: c.passage):
        level = setting.level(passage)
        if level < STRINGS_FROM or passage.role is Role.REFRAIN:
            continue
        pitch = 67
        for chord in group:
            start, end = chord.start_bar * setting.meter, chord.end_bar * setting.meter
            if not (setting.is_heard(start) and setting.is_heard(end - 1)):
                continue
            lean = setting.chance.between(-3, 4, "strings", chord.start_bar)
            pitch = chord.nearest(min(78, max(62, pitch + lean)))
            velocity = 42 + int(32 * level)
            at, beats = Fraction(start), Fraction(end - start)
            notes.append(Note(start=at, beats=beats, pitch=pitch, velocity=velocity))
            if passage.role is Role.PEAK:
                below = chord.nearest(pitch - 9)
                notes.append(Note(start=at, beats=beats, pitch=below, velocity=velocity - 8))
    return tuple(notes)
