"""The soft piano: free tones before the beat, broken chords within it, a tone where hands land."""

from __future__ import annotations

from fractions import Fraction

from rondel.model.routine import Passage
from rondel.model.words import Role
from rondel.music.harmony import Chord
from rondel.music.score import Note
from rondel.music.setting import Setting, beats_in

#: Landings closer together than this are marked only on the first beat of a bar.
ACCENT_BEATS = 4


def _free_tones(setting: Setting, start: Fraction, end: Fraction, wider: float) -> list[Note]:
    """Return single tones at uneven distances that make no pulse; `wider` stretches the gaps."""
    notes: list[Note] = []
    at = _off_grid(start + beats_in(setting, 2.3))
    last_gap, last = 0.0, 0
    while at < end:
        chord = setting.chord_at(at)
        pitch = chord.nearest(setting.chance.between(57, 76, "free pitch", at))
        if pitch == last:
            pitch = chord.nearest(pitch + 5)
        last = pitch
        velocity = setting.chance.between(30, 46, "free touch", at)
        notes.append(Note(start=at, beats=beats_in(setting, 5.0), pitch=pitch, velocity=velocity))
        gap = 3.3 + 4.4 * setting.chance.unit("free gap", at)
        if abs(gap - last_gap) < 0.9:  # three tones in an even row would suggest a beat
            gap = last_gap + 1.4 if last_gap < 5.5 else last_gap - 1.4
        last_gap = gap
        at = _off_grid(at + beats_in(setting, gap * wider))
    return notes


def _off_grid(beat: Fraction) -> Fraction:
    """Return `beat`, moved off whole and half beats where it stands near one."""
    past = beat * 2 % 1
    return beat + Fraction(5, 32) if min(past, 1 - past) < Fraction(3, 16) else beat


def _accents(setting: Setting, passage: Passage) -> dict[Fraction, Note]:
    """Return soft tones on landings: every slow stroke's, and of quick ones those on a bar."""
    routine, meter = setting.routine, setting.meter
    if setting.is_held(passage) or passage.role is Role.REFRAIN:
        return {}
    is_slow = passage.beats_per_stroke >= ACCENT_BEATS
    found = {}
    for beat in routine.landings(passage):
        if not setting.is_heard(beat) or not (is_slow or beat % (2 * meter) == 0):
            continue
        chord = setting.chord_at(beat)
        pitch = chord.nearest(chord.voices[-1] + (7 if int(beat // meter) % 2 else 2))
        velocity = 46 + int(14 * setting.level(passage))
        velocity += setting.chance.between(-4, 4, "accent", beat)
        found[beat] = Note(
            start=beat,
            beats=Fraction(meter),
            pitch=pitch,
            velocity=velocity,
            nudge_ms=setting.nudge(5, "accent", beat),
        )
    return found


def _share(setting: Setting, passage: Passage) -> float:
    """Return how much of the texture the piano takes; at the peak it makes room for the swell."""
    return 0.3 if passage.role is Role.PEAK else min(0.7, setting.level(passage))


def _places(setting: Setting, passage: Passage, bar: int) -> list[Fraction]:
    """Return where in `bar` the broken chord sounds, in beats from the bar's start."""
    meter, chance = setting.meter, setting.chance
    in_home = passage.role is Role.REFRAIN
    key = ("home", bar - passage.start_bar) if in_home else ("bar", bar)
    wish = (0.8 + 3.0 * _share(setting, passage)) * setting.character.density
    if in_home:
        wish = 1.6 * setting.character.density
    beat_seconds = setting.routine.clock.bar_seconds() / meter
    step = Fraction(1, 2) if beat_seconds * 0.5 >= 0.38 else Fraction(1)
    slots = [k * step for k in range(int(meter / step))]
    # A slot on the beat is likelier than one between; bars differ, so nothing runs like a machine.
    weight = {s: (1.0 if s.denominator == 1 else 0.55) for s in slots}
    chosen = [
        s
        for s in slots
        if chance.unit("figure", *key, s) < min(0.85, wish * weight[s] / (0.75 * len(slots)))
    ]
    return chosen or [slots[chance.between(0, len(slots) - 1, "lone", *key)]]


def _figure(setting: Setting, passage: Passage, chord: Chord, bar: int) -> list[Note]:
    """Return the broken chord of one bar: up through the chord and back, never a tone twice."""
    chance, meter = setting.chance, setting.meter
    in_home = passage.role is Role.REFRAIN
    since = bar - passage.start_bar
    ladder = sorted({*chord.voices, *(v + 12 for v in chord.voices[:3])})
    if in_home:  # below the motif
        ladder = list(chord.voices)
    at = chance.between(0, len(ladder) - 1, "enter", "home" if in_home else bar, since)
    notes = []
    for place in _places(setting, passage, bar):
        step = chance.pick((1, 1, 2, -1, -2), "step", since if in_home else bar, place, in_home)
        at = (at + step) % len(ladder)
        velocity = 34 + int(18 * _share(setting, passage)) + (5 if place == 0 else 0)
        key = ("touch", since, place, "home") if in_home else ("touch", bar, place)
        velocity += chance.between(-6, 6, *key)
        notes.append(
            Note(
                start=bar * meter + place,
                beats=Fraction(meter) - place + 1,
                pitch=ladder[at],
                velocity=velocity,
                nudge_ms=setting.nudge(7, *key),
            )
        )
    return notes


def write_piano(setting: Setting) -> tuple[Note, ...]:
    """Return the piano of the whole form; in the close it grows rare and stops first."""
    first, past = setting.heard
    notes = _free_tones(setting, Fraction(0), Fraction(first) - 1, 1.0)
    for passage in setting.routine.line:
        accents = _accents(setting, passage)
        notes.extend(accents.values())
        for bar in range(passage.start_bar, passage.end_bar):
            if not (setting.is_heard(bar * setting.meter)):
                continue
            chord = setting.by_bar[bar]
            for note in _figure(setting, passage, chord, bar):
                if all(abs(note.start - beat) >= Fraction(1, 2) for beat in accents):
                    notes.append(note)
    closing = Fraction(setting.beats - past)
    notes.extend(_free_tones(setting, Fraction(past), past + closing * Fraction(5, 8), 1.4))
    return tuple(sorted(notes, key=lambda n: (n.start, n.pitch)))
