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


def _is_great(crossing: Crossing) -> bool:
    enters_peak = crossing.entering.role is Role.PEAK and crossing.leaving.role is not Role.PEAK
    return crossing.is_home or enters_peak


def write_riser(setting: Setting) -> tuple[Note, ...]:
    """Return a rise for every crossing, ending on the change; full where home or peak is near."""
    notes = []
    for crossing in setting.crossings:
        beats = Fraction(crossing.end_beat - crossing.start_beat)
        is_great = _is_great(crossing)
        opens = setting.is_heard(crossing.start_beat)
        velocity = 84 if is_great else 52
        tone = setting.chord_at(crossing.end_beat).root_near(57 if is_great else 50)
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
    """Return one swell: the chord's root and a tone of its middle."""
    chord = setting.chord_at(at + min(rise, beats / 2))
    velocity = 72 + setting.chance.between(0, 8, "swell", at)
    tones = ((chord.root_near(47), velocity), (chord.voices[1], velocity - 6))
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
