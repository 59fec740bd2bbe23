"""How the refrain is dressed as the routine builds. The motif itself never changes.

At the first return it sounds alone; then the piano joins it with a voice below; then strings lay a
veil under it. The last of many returns is plainer again: it says goodbye.
"""

from __future__ import annotations

from fractions import Fraction

from rondel.music.motif import sung, tune_of
from rondel.music.phrases import Phrase, Unit
from rondel.music.score import Note
from rondel.music.setting import Setting

#: Returns from which the last one is plainer than the one before it.
MANY = 4

ALONE, JOINED, VEILED = 0, 1, 2


def dress_of(setting: Setting, phrase: Phrase) -> int:
    """Return how the return that `phrase` belongs to is dressed."""
    rows = setting.routine.refrains
    place = next(i for i, row in enumerate(rows) if row[0] is phrase.row[0])
    dress = min(place, VEILED)
    is_farewell = len(rows) >= MANY and place == len(rows) - 1
    return JOINED if is_farewell else dress


def _whole_phrases(setting: Setting) -> list[Phrase]:
    """Return the phrases in which the whole motif sounds and a beat is heard."""
    heard = (p for p in setting.phrases if p.unit is Unit.WHOLE)
    return [p for p in heard if setting.is_heard(p.start_bar * setting.meter)]


def write_joining(setting: Setting) -> list[Note]:
    """Return the piano's voice below the motif: a tone of the chord under each held tone."""
    tune = tune_of(setting)
    notes: list[Note] = []
    for phrase in _whole_phrases(setting):
        if dress_of(setting, phrase) < JOINED:
            continue
        was = 0
        for tone, top in zip(tune, sung(setting, tune), strict=True):
            at = phrase.start_bar * setting.meter + tone.start
            if tone.beats < 1 or at + tone.beats > phrase.end_bar * setting.meter:
                continue
            below = setting.chord_at(at).tones(top - 10, top - 3)
            if not below:
                continue
            pitch = min(below, key=lambda p: (abs(top - 8 - p) + (6 if p == was else 0), p))
            was = pitch
            velocity = 40 + setting.chance.between(-3, 3, "joining", tone.start)
            notes.append(
                Note(
                    start=Fraction(at),
                    beats=tone.beats,
                    pitch=pitch,
                    velocity=velocity,
                    nudge_ms=setting.nudge(5, "joining", tone.start),
                )
            )
    return notes


def write_veil(setting: Setting) -> list[Note]:
    """Return the strings under the motif: the upper voice of each chord, held softly."""
    notes = []
    for phrase in _whole_phrases(setting):
        if dress_of(setting, phrase) < VEILED:
            continue
        for chord in setting.chords:
            if chord.phrase is not phrase:
                continue
            start, end = chord.start_bar * setting.meter, chord.end_bar * setting.meter
            if setting.is_heard(end - 1):
                at, beats = Fraction(start), Fraction(end - start)
                pitch = chord.voices[-1]
                notes.append(Note(start=at, beats=beats, pitch=pitch, velocity=46))
    return notes
