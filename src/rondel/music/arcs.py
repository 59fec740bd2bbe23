"""Sounds with a direction: the rise that announces a change, and the swell of deep strokes."""

from __future__ import annotations

import math
from fractions import Fraction

from rondel.model.routine import Passage
from rondel.model.spans import Crossing
from rondel.model.words import Role
from rondel.music.score import Note
from rondel.music.setting import Setting

#: A stroke of at least this many seconds is slow enough to swell with.
SLOW_STROKE_SECONDS = 3.0

#: Below this a swell is felt on large loudspeakers only.
LOWEST_SWELL = 38


def _is_great(crossing: Crossing) -> bool:
    enters_peak = crossing.entering.role is Role.PEAK and crossing.leaving.role is not Role.PEAK
    return crossing.is_home or enters_peak


def _common_tone(setting: Setting, crossing: Crossing, about: int) -> int:
    """Return the tone that rises: of what comes, the one that rubs least against what is left."""
    after = setting.chord_at(crossing.end_beat)
    starts = range(crossing.start_beat, crossing.end_beat, setting.meter)
    before = [setting.chord_at(beat).classes for beat in starts]

    def rubs(tone: int) -> int:
        grates = sum((tone - other) % 12 in (1, 11) for classes in before for other in classes)
        return 3 * grates + sum(tone not in classes for classes in before)

    root, third, fifth = after.classes[:3]
    wanted = min((root, fifth, third), key=rubs)
    return about - 6 + (wanted - (about - 6)) % 12


def write_riser(setting: Setting) -> tuple[Note, ...]:
    """Return a rise for every crossing, ending on the change; full where home or peak is near."""
    notes = []
    for crossing in setting.crossings:
        beats = Fraction(crossing.end_beat - crossing.start_beat)
        is_great = _is_great(crossing)
        opens = setting.is_heard(crossing.start_beat)
        velocity = 84 if is_great else 52
        tone = _common_tone(setting, crossing, 57)
        notes.append(
            Note(
                start=Fraction(crossing.start_beat),
                beats=beats,
                pitch=tone,
                velocity=velocity if opens else velocity - 12,
                rise=beats,
            )
        )
    return tuple(notes)


def _swell_period(setting: Setting, passage: Passage) -> tuple[Fraction, Fraction]:
    """Return (beats from swell to swell, beats from its start to its fullest) of a peak passage.

    A swell lasts as long as a deep stroke, or as so many quick ones as make it slow; its top is
    the landing in its middle. A still hold breathes with the harmony, two bars at a time.
    """
    if setting.is_held(passage) or passage.is_open:
        return Fraction(2 * setting.meter), Fraction(setting.meter)
    stroke = passage.beats_per_stroke
    beat_seconds = setting.routine.clock.bar_seconds() / setting.meter
    strokes = math.ceil(SLOW_STROKE_SECONDS / (float(stroke) * beat_seconds) - 1e-9)
    whole = Fraction(setting.meter) / stroke
    if strokes > 1 and whole.denominator == 1:  # where strokes fill bars, so do swells
        strokes = max(strokes, int(whole))
    top = passage.first_landing_beat % stroke + strokes // 2 * stroke
    return strokes * stroke, top if top > 0 else stroke


def _swell(setting: Setting, at: Fraction, beats: Fraction, rise: Fraction) -> list[Note]:
    """Return one swell: the bass of its chord and two tones of the middle.

    They grow through the passage, fullest past its middle, as the hands sink in.
    """
    chord = setting.chord_at(at + min(rise, beats / 2))
    passage = setting.routine.passage_at(float(at))
    place = setting.place_in(passage, at)
    share = float(place / (passage.bars * setting.meter))
    velocity = 66 + setting.chance.between(0, 4, "swell", passage.technique, place)
    velocity += round(14 * math.sin(math.pi * min(1.0, 0.15 + 0.75 * share)))
    low = chord.bass if chord.bass >= LOWEST_SWELL else chord.bass + 12
    tones = ((low, velocity), (chord.voices[1], velocity - 6), (chord.voices[2], velocity - 14))
    return [Note(start=at, beats=beats, pitch=pitch, velocity=v, rise=rise) for pitch, v in tones]


def write_swell(setting: Setting) -> tuple[Note, ...]:
    """Return the swells of the peak, each fullest exactly where a stroke lands."""
    notes = []
    for passage in setting.routine.line:
        if passage.role is not Role.PEAK:
            continue
        period, rise = _swell_period(setting, passage)
        at = Fraction(setting.routine.start_beat(passage))
        end = setting.routine.end_beat(passage)
        while at + rise < end:
            beats = min(period, end - at) if rise < period else rise
            if setting.is_heard(at):
                notes.extend(_swell(setting, at, beats, rise))
            at += period
    return tuple(notes)
