"""A score as a Standard MIDI File: one track a layer, the tempo map, the passages as markers.

Format: type 1 (Standard MIDI Files 1.0). A fractional tempo has no exact place in the file, whose
tempo is whole microseconds a beat: it changes between the two whole tempi around the true one
before the error reaches a third of a millisecond, so that beats stay in place over any length.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido

from rondel.adapters.atomic import write_bytes
from rondel.model.time import Clock
from rondel.music.score import LayerName, Note, Score, ScoreLayer

#: Fine enough that rounding a note to a tick moves it by a tenth of a millisecond.
TICKS_PER_BEAT = 4800

#: Error of a beat, in microseconds, at which the tempo is set anew.
MOST_DRIFT_US = 300

#: No beat of the file can be longer: three bytes of microseconds.
SLOWEST_BEAT_US = 0xFFFFFF

#: Instruments by the General MIDI list, counted from 0. Percussion lives on channel 9.
PROGRAMS = {
    LayerName.DRONE: 89,
    LayerName.PAD: 89,
    LayerName.BASS: 32,
    LayerName.STRINGS: 49,
    LayerName.PIANO: 0,
    LayerName.MOTIF: 108,
    LayerName.PULSE: 12,
    LayerName.DRUM: 0,
    LayerName.SWELL: 95,
    LayerName.RISER: 97,
}
CHANNELS = {name: i if i < 9 else i + 1 for i, name in enumerate(LayerName)} | {LayerName.DRUM: 9}

#: Steps a beat in which a swelling tone's expression (controller 11) is written.
SWELL_STEPS = 4


@dataclass(frozen=True, slots=True)
class _Event:
    """A message at a tick; `rank` orders those at one tick: ends before settings before starts."""

    tick: int
    rank: int
    message: mido.Message | mido.MetaMessage


def tempo_map(clock: Clock) -> tuple[tuple[int, int], ...]:
    """Return (beat, microseconds a beat) from which a reader finds every beat within 1 ms."""
    step = 1 if clock.beat_seconds else clock.beats_per_bar
    found: list[tuple[int, int]] = []
    reached, current = Fraction(clock.seconds_at(0)) * 1_000_000, 0  # where a reader stands, in µs
    for beat in range(0, clock.beats, step):
        here, there = (Fraction(clock.seconds_at(b)) * 1_000_000 for b in (beat, beat + step))
        if not current or abs(reached + current * step - there) > MOST_DRIFT_US:
            below = int((there - here) / step)  # the two whole tempi around the true one
            nearer = min((below, below + 1), key=lambda us: abs(reached + us * step - there))
            current = max(1, min(SLOWEST_BEAT_US, nearer))
            found.append((beat, current))
        reached += current * step
    return tuple(found)


def lead_in(clock: Clock) -> tuple[int, int]:
    """Return (beats, microseconds a beat) that stand before the first beat of a routine.

    A brought track may sound before it. Without such a time there are none.
    """
    microseconds = round(Fraction(clock.seconds_at(0)) * 1_000_000)
    if microseconds < MOST_DRIFT_US:
        return 0, 0
    beats = -(-microseconds // SLOWEST_BEAT_US)
    return beats, round(Fraction(microseconds, beats))


def _tick(beat: Fraction | int) -> int:
    return round(beat * TICKS_PER_BEAT)


def _note_ticks(score: Score, note: Note) -> tuple[int, int]:
    """Return the ticks of start and end, the small liberty of touch included."""
    beat = int(note.start)
    beat_seconds = score.clock.seconds_at(beat + 1) - score.clock.seconds_at(beat)
    nudge = round(note.nudge_ms / 1000 / beat_seconds * TICKS_PER_BEAT)
    start = max(0, _tick(note.start) + nudge)
    return start, max(start + 1, _tick(note.end))


def _expression(note: Note, channel: int) -> list[_Event]:
    """Return the swell of a tone as steps of controller 11: up to its rise, and down after it."""
    if note.rise is None:
        return []
    events = []
    steps = max(1, int(note.beats * SWELL_STEPS))
    for k in range(steps):
        since = note.beats * k / steps
        if since <= note.rise:
            share = since / note.rise if note.rise else Fraction(1)
        else:
            share = (note.beats - since) / (note.beats - note.rise)
        value = 20 + int(107 * share)
        message = mido.Message("control_change", channel=channel, control=11, value=value)
        events.append(_Event(_tick(note.start + since), 1, message))
    return events


def _layer_events(score: Score, layer: ScoreLayer) -> list[_Event]:
    channel = CHANNELS[layer.name]
    events: list[_Event] = []
    sounding: dict[int, int] = {}  # the end of the last tone on each pitch
    for note in reversed(layer.notes):
        start, end = _note_ticks(score, note)
        # A tone must end before the same key is struck again, or readers pair them wrongly.
        end = max(start + 1, min(end, sounding.get(note.pitch, end)))
        sounding[note.pitch] = start
        on = mido.Message("note_on", channel=channel, note=note.pitch, velocity=note.velocity)
        off = mido.Message("note_off", channel=channel, note=note.pitch, velocity=0)
        events += [_Event(start, 2, on), _Event(end, 0, off), *_expression(note, channel)]
    return events


def _later(events: list[_Event], beats: int) -> list[_Event]:
    """Return the events moved by the beats of the lead-in."""
    return [replace(e, tick=e.tick + _tick(beats)) for e in events] if beats else events


def _as_track(name: str, events: list[_Event], first: list[mido.MetaMessage | mido.Message],
              end_tick: int) -> mido.MidiTrack:  # fmt: skip
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=_latin(name)), *first])
    at = 0
    order = sorted(events, key=lambda e: (e.tick, e.rank, str(e.message)))
    for event in order:
        track.append(event.message.copy(time=event.tick - at))
        at = event.tick
    track.append(mido.MetaMessage("end_of_track", time=max(0, end_tick - at)))
    return track


def _latin(text: str) -> str:
    """Return `text` in what the file's text events can hold everywhere."""
    return text.encode("latin-1", "replace").decode("latin-1")


def midi_bytes(score: Score) -> bytes:
    """Return the whole file. Equal scores give equal bytes."""
    clock = score.clock
    lead, lead_us = lead_in(clock)
    end_tick = _tick(clock.beats + lead)
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_BEAT, charset="latin-1")
    tempi = [(-lead, lead_us)] if lead else []
    marks = [
        _Event(_tick(beat), 0, mido.MetaMessage("set_tempo", tempo=tempo))
        for beat, tempo in [*tempi, *tempo_map(clock)]
    ]
    marks += [
        _Event(_tick(m.beat), 1, mido.MetaMessage("marker", text=_latin(m.text)))
        for m in score.markers
    ]
    meter = mido.MetaMessage("time_signature", numerator=clock.beats_per_bar, denominator=4)
    file.tracks.append(_as_track(score.title, _later(marks, lead), [meter], end_tick))
    for layer in score.layers:
        channel = CHANNELS[layer.name]
        program = mido.Message("program_change", channel=channel, program=PROGRAMS[layer.name])
        events = _later(_layer_events(score, layer), lead)
        file.tracks.append(_as_track(str(layer.name), events, [program], end_tick))
    held = BytesIO()
    file.save(file=held)
    return held.getvalue()


def write_midi(score: Score, path: Path) -> None:
    """Write `score` to `path`, whole or not at all."""
    write_bytes(path, midi_bytes(score))
