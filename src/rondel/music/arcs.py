"""Sounds with a direction: the rise that announces a change, and the swell of deep strokes."""

from __future__ import annotations

from fractions import Fraction

from rondel.model.routine import Passage
from rondel.model.spans import Crossing
from rondel.model.words import Layer, Role
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


def _swells(setting: Setting, passage: Passage) -> bool:
    """True for the slow hands of a peak."""
    if passage.role is not Role.PEAK or passage.layer is Layer.OVER or passage.is_open:
        return False
    beat_seconds = setting.routine.clock.bar_seconds() / setting.meter
    return float(passage.beats_per_stroke) * beat_seconds >= SLOW_STROKE_SECONDS


def write_swell(setting: Setting) -> tuple[Note, ...]:
    """Return a swell for every deep stroke of the peak, fullest exactly where the stroke lands."""
    notes = []
    for passage in setting.routine.line:
        if not _swells(setting, passage):
            continue
        step = passage.beats_per_stroke
        if setting.is_held(passage):
            step = Fraction(2 * setting.meter)  # a still hold breathes with the harmony
        start = Fraction(setting.routine.start_beat(passage))
        landing = passage.first_landing_beat % step
        rise = landing if landing > 0 else step / 2
        at = start if landing > 0 else start + step / 2
        end = setting.routine.end_beat(passage)
        while at + rise <= end:
            if setting.is_heard(at):
                chord = setting.chord_at(at + rise)
                level = 72 + setting.chance.between(0, 8, "swell", at)
                beats = min(step, end - at)
                for pitch, velocity in (
                    (chord.root_near(47), level),
                    (chord.voices[1], level - 6),
                ):
                    notes.append(
                        Note(start=at, beats=beats, pitch=pitch, velocity=velocity, rise=rise)
                    )
            at += step
    return tuple(notes)
