"""The beat: a soft pulse on every heard beat, and the hand drum where hands are rhythmic."""

from __future__ import annotations

from fractions import Fraction

from rondel.model.routine import Passage
from rondel.model.words import Role
from rondel.music.harmony import Chord
from rondel.music.score import Note
from rondel.music.setting import Setting

#: The drum's strokes, by the percussion map of General MIDI: low, open and muted conga.
LOW, OPEN, TAP = 64, 63, 62


#: The pulse beats between these pitches.
LOWEST_PULSE, HIGHEST_PULSE = 42, 53


def _pulse_tone(setting: Setting, chord: Chord, order: tuple[int, ...]) -> int:
    """Return the pulse's tone: the first of the chord's tones in `order` that can beat low down.

    Where the held ground sounds, a tone a step away from it would grate.
    """
    root = setting.key.root
    ground = () if setting.has_bass(chord) else (root, root + 7)
    for place in order:
        wanted = chord.classes[place]
        low = LOWEST_PULSE + (wanted - LOWEST_PULSE) % 12
        if all(abs(low - held) not in (1, 2) for held in ground):
            return low
    return chord.root_near(48)


#: In the last bar of a crossing the pulse beats so much fuller, or the rise would cover it.
OVER_RISE = 11


def write_pulse(setting: Setting) -> tuple[Note, ...]:
    """Return one soft low tone for every heard beat, a little fuller on the first of a bar."""
    notes = []
    covered = {b for c in setting.crossings for b in range(c.end_beat - setting.meter, c.end_beat)}
    for beat in range(*setting.heard):
        chord = setting.chord_at(beat)
        is_first = beat % setting.meter == 0
        is_half_way = beat % setting.meter * 2 == setting.meter
        level = setting.level(chord.passage)
        place = setting.place_in(chord.passage, beat)
        sway = setting.chance.between(-3, 3, "pulse", chord.passage.technique, place)
        velocity = (66 if is_first else 48) + int(14 * level) + sway
        velocity += setting.character.pulse
        velocity += OVER_RISE if beat in covered else 0
        pitch = _pulse_tone(setting, chord, (2, 0, 1) if is_half_way else (0, 2, 1))
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
    since = setting.place_in(passage, beat)
    phrase = setting.chord_at(beat).phrase
    is_peak = passage.role is Role.PEAK
    ends_phrase = bar == phrase.end_bar - 1 and phrase.bars > 1
    if place == 0:
        pitch, velocity = LOW, 62
    elif place.denominator == 1 and int(place) * 2 == meter:
        pitch, velocity = OPEN, 50
    elif place.denominator == 1:
        pitch, velocity = TAP, 42
    else:
        rest = chance.unit("drum rest", passage.technique, (bar - phrase.start_bar) % 2, place)
        if rest < (0.65 if ends_phrase else 0.25):
            return None
        pitch, velocity = TAP, 33
    if ends_phrase and place * 2 > meter:  # the end of a phrase turns the pattern over
        pitch, velocity = (OPEN if pitch == TAP else TAP), velocity - 4
    velocity += chance.between(-5, 5, "drum", passage.technique, since) + (10 if is_peak else 0)
    velocity += round(5 * phrase.share_at(float(beat / meter)))
    return Note(
        start=beat,
        beats=min(step, Fraction(1, 2)),
        pitch=pitch,
        velocity=velocity,
        nudge_ms=setting.nudge(4, "drum", passage.technique, since) if place else 0,
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
