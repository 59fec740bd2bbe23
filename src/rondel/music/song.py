"""The piano's upper voice outside the refrain: a tone where the hands land, shaped into phrases.

Each technique has a contour of its own, so that both sides are worked to the same tune.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from rondel.model.routine import Passage
from rondel.model.words import Role
from rondel.music.harmony import Chord
from rondel.music.phrases import Ending, Phrase
from rondel.music.score import Note
from rondel.music.setting import Setting

#: Landings closer together than this are sung only where a rhythm of the song's own falls on them.
ACCENT_BEATS = 4

#: The song moves so far to both sides of its middle, semitones.
REACH = 9

#: Where the song of quick strokes has its tones, in shares of two bars.
CELLS = ((0, 3), (0, 4), (0, 2, 4), (0, 3, 4), (0, 4, 6), (0, 1, 4), (0, 5, 6), (0, 2, 3))


def curve(contour: str, share: float) -> float:
    """Return where a phrase stands at `share` of its way, -1 (low) to 1 (high)."""
    if contour == "rise":
        return -0.8 + 1.6 * min(1.0, share / 0.75)
    if contour == "fall":
        return 0.8 - 1.6 * share
    if contour == "wave":
        return 0.7 * math.sin(2 * math.pi * (share + 0.1))
    return -0.7 + 1.6 * math.sin(math.pi * min(1.0, share * 0.85 + 0.05))


@dataclass(frozen=True, slots=True)
class _Line:
    """The song of one passage: where its tones are wanted."""

    setting: Setting
    passage: Passage
    contours: tuple[str, str]
    middle: int

    def cost(self, chord: Chord, pitch: int, phrase: Phrase, beat: Fraction, last: int) -> float:
        share = phrase.share_at(float(beat / self.setting.meter))
        contour = self.contours[phrase.place % 2]
        step = (0, 3, 5, 2)[phrase.place % 4]  # phrases climb, and come down in the end
        target = self.middle - 2 + step + 6 * curve(contour, share)
        cost = 0.8 * abs(pitch - target)
        if last:
            move = abs(pitch - last)
            cost += 9.0 if move == 0 else 0.3 * max(0, move - 3) + (8.0 if move > 9 else 0.0)
            cost += 6.0 if move == 6 else 0.0
        if pitch % 12 not in chord.classes[:3]:
            cost += 1.5  # the added tone colours, and rarely bears the tune
        is_end = (
            phrase.ending is Ending.CLOSED and beat >= (phrase.end_bar - 2) * self.setting.meter
        )
        if is_end and pitch % 12 == chord.classes[2]:
            cost += 1.0
        key = (*phrase.key, beat - phrase.start_bar * self.setting.meter, pitch)
        return cost + 2.5 * self.setting.chance.unit("song", *key)


def _line(setting: Setting, passage: Passage) -> _Line:
    chance, character = setting.chance, setting.character
    name = passage.technique
    first, second = (chance.pick(character.contours, "contour", name, k) for k in (0, 1))
    lift = 2 if passage.role is Role.PEAK else -2 if passage.role is Role.REST else 0
    middle = character.sings_about + chance.between(-2, 2, "sings", name) + lift
    return _Line(setting, passage, (first, second), middle)


def _anchors(setting: Setting, passage: Passage) -> list[Fraction]:
    """Return the beats that bear the song: every slow landing, of quick strokes a few."""
    routine, meter = setting.routine, setting.meter
    landings = [b for b in routine.landings(passage) if setting.is_heard(b)]
    if passage.beats_per_stroke >= ACCENT_BEATS:
        return landings
    found = []
    for phrase in setting.phrases_in(passage):
        cell = setting.chance.pick(CELLS, "cell", passage.technique, phrase.place % 2)
        start = phrase.start_bar * meter
        for at in range(start, phrase.end_bar * meter, 2 * meter):
            is_last = at + 2 * meter >= phrase.end_bar * meter and phrase.bars > 2
            for place in cell:
                beat = at + place * 2 * meter // 8
                if place and (is_last or setting.character.density < 0.7):
                    continue  # the end of a phrase is for breathing
                if place and setting.chance.unit("sung", *phrase.key, beat - start) < 0.3:
                    continue
                found.append(Fraction(beat))
    onto = (min((b for b in landings if beat <= b < beat + 2), default=None) for beat in found)
    return sorted({b for b in onto if b is not None})


def _lead_in(setting: Setting, note: Note, before: Note | None, phrase: Phrase) -> list[Note]:
    """Return a tone or two that lead by step into `note` from where the song was; often none."""
    since = note.start - phrase.start_bar * setting.meter
    key = (*phrase.key, since)
    if before is None or setting.chance.unit("lead in", *key) >= setting.character.pickups:
        return []
    gap = note.start - before.start
    if gap < 3 or before.pitch == note.pitch:
        return []
    way = -1 if before.pitch < note.pitch else 1
    count = 2 if gap >= 4 and abs(before.pitch - note.pitch) >= 5 else 1
    found = []
    for k in range(count, 0, -1):
        at = note.start - Fraction(k, 2) if count > 1 else note.start - 1
        pitch = setting.key.step_from(note.pitch, way * k)
        if not setting.is_heard(at) or pitch == before.pitch:
            continue
        found.append(
            Note(
                start=at,
                beats=note.start - at,
                pitch=pitch,
                velocity=note.velocity - 9 + setting.chance.between(-3, 3, "lead touch", *key, k),
                nudge_ms=setting.nudge(7, "lead", *key, k),
            )
        )
    return found


def _second_voice(setting: Setting, note: Note) -> Note | None:
    """Return the second voice of a duet: a tone of the chord a third to a sixth below."""
    below = setting.chord_at(note.start).tones(note.pitch - 9, note.pitch - 3)
    if not below:
        return None
    pitch = min(below, key=lambda p: (abs(note.pitch - 8 - p), p))
    return replace(note, pitch=pitch, velocity=note.velocity - 8)


def write_song(setting: Setting, passage: Passage) -> list[Note]:
    """Return the song of `passage`; none in the refrain, in the open, and under still hands."""
    if setting.is_held(passage) or passage.role is Role.REFRAIN:
        return []
    line, meter = _line(setting, passage), setting.meter
    notes: list[Note] = []
    last: Note | None = None
    for beat in _anchors(setting, passage):
        chord = setting.chord_at(beat)
        phrase = chord.phrase
        tones = chord.tones(line.middle - REACH, line.middle + REACH)
        was = last.pitch if last else 0
        pitch = min(tones, key=lambda p: (line.cost(chord, p, phrase, beat, was), p))
        since = setting.place_in(passage, beat)
        velocity = 44 + int(14 * setting.level(passage)) + _hairpin(setting, phrase, beat)
        velocity += setting.chance.between(-4, 4, "accent", passage.technique, since)
        note = Note(
            start=beat,
            beats=Fraction(meter),
            pitch=pitch,
            velocity=velocity,
            nudge_ms=setting.nudge(5, "accent", passage.technique, since),
        )
        notes += _lead_in(setting, note, last, phrase)
        notes.append(note)
        second = _second_voice(setting, note) if setting.character.is_duet else None
        if second:
            notes.append(second)
        last = note
    return notes


def _hairpin(setting: Setting, phrase: Phrase, beat: Fraction) -> int:
    """Return how much a phrase leans at `beat`: it grows past its middle and lets go."""
    share = phrase.share_at(float(beat / setting.meter))
    return round(7 * math.sin(math.pi * min(1.0, 0.1 + 0.9 * share)))
