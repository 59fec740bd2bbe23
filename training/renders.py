"""Renders tunes to sound and sound to what the network sees, with the truth beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve, lfilter

from corpora.tunes import DRUMS, Performance, Tune, again, perform
from rondel.listening.features import RATE, Features, FeatureStream, Sound
from training.songs import HELD, STRUCK, accompany, make_song

SECONDS = 80.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Example:
    """`features` of a sound; beats in seconds; spans without a beat, and not to be judged."""

    features: Features
    beats: NDArray[np.float64]
    downbeats: NDArray[np.float64]
    beats_per_bar: int
    still: NDArray[np.float64]
    unjudged: NDArray[np.float64]


def song_example(seed: int, font: Path) -> Example:
    """Return an example of a made-up song."""
    rng = np.random.default_rng([seed, 1])
    tune, still = make_song(rng)
    return _played(tune, still, rng, font)


def score_example(tune: Tune, seed: int, font: Path) -> Example:
    """Return an example of a public tune; half of the melodies alone are accompanied."""
    rng = np.random.default_rng([seed, 2])
    tune = again(tune, 160)
    if tune.notes[:, 3].max() == 0 and not tune.programs and rng.random() < 0.5:
        tune = accompany(tune, rng)
    return _played(_expressive(tune, rng), [], rng, font)


def ambient_example(seed: int) -> Example:
    """Return an example of a made-up ambient track; `seed` is 10000 or more."""
    from ambient_tracks import make_track

    track = make_track(seed, 150.0, RATE)
    truth, rng = track.truth, np.random.default_rng([seed, 3])
    return Example(
        features=_features(_coloured(track.sound, rng)),
        beats=np.array(truth.beats),
        downbeats=np.array(truth.downbeats),
        beats_per_bar=truth.beats_per_bar,
        still=np.array([(s.start, s.end) for s in truth.beatless]).reshape(-1, 2),
        unjudged=np.array([(s.start, s.end) for s in truth.unsure]).reshape(-1, 2),
    )


def _expressive(tune: Tune, rng: np.random.Generator) -> Tune:
    notes = tune.notes.copy()
    accent = rng.uniform(0, 18) * (rng.random() < 0.5)
    uneven = rng.uniform(0, 8) * (rng.random() < 0.7)
    in_bar = np.mod(notes[:, 0] - tune.first_bar, tune.beats_per_bar)
    notes[:, 4] += accent * (in_bar < 0.01) + rng.normal(0, uneven, len(notes))
    parts = int(notes[:, 3].max()) + 1
    notes[:, 4] += rng.normal(0, 8, parts)[notes[:, 3].astype(int)]
    notes[:, 2] += rng.integers(-4, 5)
    notes[:, 4] = np.clip(notes[:, 4], 20, 127)
    out = replace(tune, notes=notes)
    if len(out.programs) >= parts:
        return out
    same = int(rng.choice(STRUCK + HELD))
    alike = rng.random() < 0.6
    programs = tuple(same if alike else int(rng.choice(STRUCK + HELD)) for _ in range(parts))
    return replace(out, programs=programs, drums=(False,) * parts)


def _played(
    tune: Tune, still: list[tuple[float, float]], rng: np.random.Generator, font: Path
) -> Example:
    bpm = float(np.exp(rng.uniform(np.log(50), np.log(116))))
    shift = 0.0
    if not still and tune.beats * 60 / bpm > SECONDS + 20:  # begin anywhere in a long work
        bars = int((tune.beats - SECONDS * bpm / 60) / tune.beats_per_bar)
        shift = float(rng.integers(0, bars + 1) * tune.beats_per_bar)
    if shift:
        notes = tune.notes[tune.notes[:, 0] >= shift].copy()
        notes[:, 0] -= shift
        tune = replace(tune, notes=notes)
    drift = float(rng.choice([0.0, 0.02, 0.04, 0.08], p=[0.4, 0.2, 0.3, 0.1]))
    played = perform(
        tune,
        bpm=bpm,
        drift=drift,
        rng=rng,
        programs=_by_channel(tune),
        seconds=SECONDS,
        lead=float(rng.uniform(0.3, 3)),
        jitter=float(rng.choice([0.0, 0.004, 0.01])),
    )
    sound = _coloured(render(played, font), rng)
    spans = []
    if still:
        clock = played.beats
        index = np.arange(len(clock)) + np.ceil(tune.notes[0, 0])
        spans = [
            (float(np.interp(a, index, clock)), float(np.interp(b, index, clock)))
            for a, b in still
            if b > index[0] and a < index[-1]
        ]
    return Example(
        features=_features(sound),
        beats=played.beats,
        downbeats=played.downbeats,
        beats_per_bar=played.beats_per_bar,
        still=np.array(spans).reshape(-1, 2),
        unjudged=np.array([(played.beats[-1] + 0.5, played.seconds + 9)]),
    )


def _by_channel(tune: Tune) -> tuple[int, ...]:
    programs = [0] * 16
    for part, program in enumerate(tune.programs):
        if not (part < len(tune.drums) and tune.drums[part]):
            channel = part % 15
            programs[channel + (channel >= DRUMS)] = program
    return tuple(programs)


def render(played: Performance, font: Path) -> Sound:
    """Return (frames, 2) at RATE, through a small synthesiser other than the benchmark's."""
    synth = _synth(font)
    synth.sounds_off()
    synth.generate(RATE // 10)
    for channel, program in enumerate(played.programs):
        synth.program_change(channel, program, channel == DRUMS)
    events = [(row[0], 1, int(row[2]), int(row[3]), int(row[4])) for row in played.notes]
    events += [(row[0] + row[1], 0, int(row[2]), int(row[3]), 0) for row in played.notes]
    parts: list[Sound] = []
    done = 0
    for at, is_on, pitch, channel, velocity in sorted(events):
        until = int(at * RATE)
        if until > done:
            parts.append(_generated(synth, until - done))
            done = until
        if is_on:
            synth.noteon(channel, pitch, velocity)
        else:
            synth.noteoff(channel, pitch)
    rest = int(played.seconds * RATE) - done
    if rest > 0:
        parts.append(_generated(synth, rest))
    return np.concatenate(parts)


@lru_cache(maxsize=1)
def _synth(font: Path) -> Any:
    import tinysoundfont

    synth = tinysoundfont.Synth(samplerate=RATE, gain=-6.0)
    synth.sfload(str(font))
    return synth


def _generated(synth: Any, count: int) -> Sound:
    raw = np.frombuffer(synth.generate(count), dtype=np.float32)
    return raw.reshape(-1, 2).copy()


def _coloured(sound: Sound, rng: np.random.Generator) -> Sound:
    """Put the sound in a room, tilt its spectrum, add hiss, make it mono: as recordings differ."""
    out = np.asarray(sound, dtype=np.float32)
    if rng.random() < 0.3:
        out = out.mean(axis=1, keepdims=True)
    if rng.random() < 0.5:
        decay = rng.uniform(0.3, 2.5)
        count = int(decay * RATE)
        room = rng.standard_normal((count, out.shape[1]))
        room *= np.exp(-6.9 * np.arange(count) / count)[:, None]
        room[: int(rng.uniform(0.002, 0.03) * RATE)] = 0
        room /= np.sqrt((room**2).sum(axis=0) + 1e-9)
        wet = fftconvolve(out, room, axes=0)[: len(out)]
        out = out + wet.astype(np.float32) * rng.uniform(0.1, 0.9)
    if rng.random() < 0.6:
        pole = rng.uniform(-0.6, 0.6)
        out = lfilter([1.0], [1.0, -pole], out, axis=0).astype(np.float32)
    if rng.random() < 0.25:
        pole = np.exp(-2 * np.pi * rng.uniform(1500, 6000) / RATE)
        for _ in range(2):
            out = lfilter([1 - pole], [1.0, -pole], out, axis=0).astype(np.float32)
    loud = max(float(np.sqrt((out**2).mean())), 1e-6)
    if rng.random() < 0.5:
        hiss = rng.standard_normal(out.shape).astype(np.float32)
        out = out + hiss * loud * 10 ** (rng.uniform(-70, -30) / 20)
    return out


def _features(sound: Sound) -> Features:
    stream = FeatureStream()
    for start in range(0, len(sound), RATE * 20):
        stream.feed(np.asarray(sound[start : start + RATE * 20], dtype=np.float32))
    return stream.features()
