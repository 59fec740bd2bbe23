"""A tune as notes counted in beats, and its performance as notes in seconds with true beats."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import mido
import numpy as np
from numpy.typing import NDArray

Rows = NDArray[np.float64]
DRUMS = 9  # the General MIDI channel of percussion, counted from 0
TICKS = 2000  # a second: half a millisecond each


@dataclass(frozen=True, slots=True, kw_only=True)
class Tune:
    """Notes as rows (start in beats, length in beats, pitch, part, velocity), sorted by start.

    Beat 0 is the first beat at or after the first note less one bar; bars begin on the beats
    `first_bar`, `first_bar` + `beats_per_bar` and so on. `programs` and `drums` are by part.
    """

    name: str
    notes: Rows
    beats_per_bar: int
    first_bar: int
    metre: str
    programs: tuple[int, ...] = ()
    drums: tuple[bool, ...] = ()

    @property
    def beats(self) -> float:
        return float((self.notes[:, 0] + self.notes[:, 1]).max())


@dataclass(frozen=True, slots=True, kw_only=True)
class Performance:
    """A tune in time: notes (start and length in seconds, pitch, channel, velocity) and truth."""

    name: str
    notes: Rows
    programs: tuple[int, ...]
    beats: Rows
    downbeats: Rows
    beats_per_bar: int
    bpm: float
    is_constant: bool
    seconds: float


def again(tune: Tune, beats: float) -> Tune:
    """Return a short tune played over and over, from bar line to bar line, for `beats` or more."""
    last = float(np.ceil((tune.beats - 0.01) / tune.beats_per_bar) * tune.beats_per_bar)
    times = max(1, int(np.ceil(beats / last)))
    shifted = [tune.notes + np.array([last * k, 0, 0, 0, 0]) for k in range(times)]
    notes = np.concatenate(shifted)
    return replace(tune, notes=notes[np.argsort(notes[:, 0], kind="stable")])


def beat_clock(count: int, bpm: float, drift: float, rng: np.random.Generator) -> Rows:
    """Return the second of each beat 0 … `count`, the tempo wandering smoothly by ± `drift`."""
    at = np.arange(count)
    wander = np.zeros(count)
    if drift:
        for period in (rng.uniform(24, 40), rng.uniform(50, 110)):
            wander += np.sin(2 * np.pi * (at / period + rng.uniform()))
        wander *= drift / max(np.abs(wander).max(), 1e-9)
    return np.concatenate([[0.0], np.cumsum(60.0 / (bpm * (1 + wander)))])


def perform(
    tune: Tune,
    *,
    bpm: float,
    drift: float,
    rng: np.random.Generator,
    programs: tuple[int, ...],
    seconds: float,
    lead: float = 1.0,
    jitter: float = 0.0,
) -> Performance:
    """Play `tune` for up to `seconds`; `jitter` is the spread of each note's start in seconds."""
    first = np.floor(tune.notes[0, 0])
    clock = beat_clock(int(tune.beats - first) + 3, bpm, drift, rng) + lead
    inside = tune.notes[np.interp(tune.notes[:, 0] - first, np.arange(len(clock)), clock) < seconds]
    starts = np.interp(inside[:, 0] - first, np.arange(len(clock)), clock)
    ends = np.interp(inside[:, 0] + inside[:, 1] - first, np.arange(len(clock)), clock)
    if jitter:
        starts = np.maximum(starts + rng.normal(0, jitter, len(starts)), 0)
    last = min(seconds, starts[-1] + 0.01)
    index = np.arange(len(clock)) + int(first)
    sounding = (clock >= starts[0] - 0.01) & (clock <= last)
    is_down = (index - tune.first_bar) % tune.beats_per_bar == 0
    parts = inside[:, 3].astype(int)
    channels = np.array([_channel(part, tune.drums) for part in range(parts.max() + 1)])
    notes = np.stack(
        [starts, np.maximum(ends - starts, 0.05), inside[:, 2], channels[parts], inside[:, 4]], 1
    )
    return Performance(
        name=tune.name,
        notes=notes,
        programs=programs,
        beats=clock[sounding],
        downbeats=clock[sounding & is_down],
        beats_per_bar=tune.beats_per_bar,
        bpm=bpm,
        is_constant=drift == 0,
        seconds=min(seconds, float(ends.max())) + 2.0,
    )


def _channel(part: int, drums: tuple[bool, ...]) -> int:
    if part < len(drums) and drums[part]:
        return DRUMS
    channel = part % 15
    return channel + (channel >= DRUMS)


def write_midi(performance: Performance, path: Path) -> None:
    """Write the performance as a Standard MIDI File in ticks of half a millisecond."""
    end = round(performance.seconds * TICKS)
    events: list[tuple[int, int, mido.Message]] = []
    for channel, program in enumerate(performance.programs):
        if channel != DRUMS:
            message = mido.Message("program_change", channel=channel, program=program)
            events.append((0, 0, message))
    for start, length, pitch, channel, velocity in performance.notes:
        note = {"channel": int(channel), "note": int(pitch)}
        on = mido.Message("note_on", velocity=int(np.clip(velocity, 1, 127)), **note)
        events.append((round(start * TICKS), 2, on))
        off = mido.Message("note_off", velocity=0, **note)
        # A note left sounding at the end would keep the synthesiser rendering for ever.
        events.append((min(end, round((start + length) * TICKS) - 1), 1, off))
    file = mido.MidiFile(ticks_per_beat=TICKS)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000)])
    file.tracks.append(track)
    now = 0
    for at, _, message in sorted(events, key=lambda event: (event[0], event[1])):
        track.append(message.copy(time=at - now))
        now = at
    track.append(mido.MetaMessage("end_of_track", time=max(0, end - now)))
    file.save(path)
