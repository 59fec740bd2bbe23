"""The beat: a soft pulse on every heard beat, and the hand drum where hands are rhythmic."""

from __future__ import annotations

from fractions import Fraction

from rondel.model.routine import Passage
from rondel.model.words import Role
from rondel.music.score import Note
from rondel.music.setting import Setting

#: The drum's strokes, by the percussion map of General MIDI: low, open and muted conga.
LOW, OPEN, TAP = 64, 63, 62


def write_pulse(setting: Setting) -> tuple[Note, ...]:
    """Return one soft low tone for every heard beat, a little fuller on the first of a bar."""
    notes = []
    for beat in range(*setting.heard):
        chord = setting.chord_at(beat)
        is_first = beat % setting.meter == 0
        level = setting.level(chord.passage)
        sway = setting.chance.between(-3, 3, "pulse", beat)
        velocity = (66 if is_first else 48) + int(14 * level) + sway
        pitch = chord.root_near(48)
        if beat % setting.meter * 2 == setting.meter:  # half way: the chord's fifth
            pitch = chord.nearest(pitch + 7)
        notes.append(
            Note(start=Fraction(beat), beats=Fraction(3, 4), pitch=pitch, velocity=velocity)
        )
    return tuple(notes)


def _drum_step(setting: Setting, passage: Passage) -> Fraction:
    """Return the beats between drum strokes: those of the quick hands, at most one beat."""
    quick = setting.over(passage) or passage
    return min(Fraction(1), max(Fraction(1, 2), quick.beats_per_stroke))


def _stroke(setting: Setting, passage: Passage, beat: Fraction, step: Fraction) -> Note | None:
    """Return the drum stroke at `beat`, or None where the pattern rests."""
    chance, meter = setting.chance, setting.meter
    place = beat % meter
    bar = int(beat // meter)
    is_peak = passage.role is Role.PEAK
    if place == 0:
        pitch, velocity = LOW, 62
    elif place.denominator == 1 and int(place) * 2 == meter:
        pitch, velocity = OPEN, 50
    elif place.denominator == 1:
        pitch, velocity = TAP, 42
    else:
        if chance.unit("drum rest", bar % 4, place) < 0.25:
            return None
        pitch, velocity = TAP, 33
    velocity += chance.between(-5, 5, "drum", beat) + (10 if is_peak else 0)
    return Note(
        start=beat,
        beats=min(step, Fraction(1, 2)),
        pitch=pitch,
        velocity=velocity,
        nudge_ms=setting.nudge(4, "drum", beat) if place else 0,
    )


def write_drum(setting: Setting) -> tuple[Note, ...]:
    """Return the hand drum: only in rhythmic passages and at the peak, within the heard beats."""
    notes = []
    for passage in setting.routine.line:
        over = setting.over(passage)
        is_driven = setting.is_rhythmic(passage) or (over and setting.is_rhythmic(over))
        if not (is_driven or passage.role is Role.PEAK) or passage.role is Role.REFRAIN:
            continue
        step = _drum_step(setting, passage)
        beat = Fraction(setting.routine.start_beat(passage))
        while beat < setting.routine.end_beat(passage):
            note = _stroke(setting, passage, beat, step) if setting.is_heard(beat) else None
            if note:
                notes.append(note)
            beat += step
    return tuple(notes)
