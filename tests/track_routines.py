"""Short routines set to made-up tracks whose beats are known to the sample."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from rondel.model.routine import Music, Routine
from rondel.model.time import Tempo
from rondel.model.track import Course, Piece, Span
from rondel.model.words import Role, Side
from sound_routines import row_of

Wave = NDArray[np.float32]

#: Half a minute at 120 beats a minute: 15 bars of four beats.
SHORT = (
    ("wide-wings", Role.ARRIVE, Side.BOTH, 2, 1, 8, 4),
    ("slow-river", Role.REFRAIN, Side.BOTH, 3, 2, 12, 6),
    ("big-dough", Role.WORK, Side.LEFT, 2, 3, 2, 1),
    ("big-dough", Role.WORK, Side.RIGHT, 2, 3, 2, 1),
    ("slow-river", Role.REFRAIN, Side.BOTH, 3, 2, 12, 6),
    ("wide-wings", Role.CLOSE, Side.BOTH, 3, 1, 12, 6),
)
BEATS = 60


def swaying(beats: int, *, first: float = 0.0, mean: float = 0.5) -> tuple[float, ...]:
    """Return the seconds of `beats` beats and of the end, whose tempo drifts by 8 %."""
    steps = (mean * (1 + 0.08 * float(np.sin(b / 9))) for b in range(beats))
    return tuple(accumulate(steps, initial=first))


def ticking(
    beats: tuple[float, ...], seconds: float, *, rate: int, chord: tuple[float, ...] = ()
) -> Wave:
    """Return a mono track: a short bright tone on every beat over a held chord (Hz)."""
    at = np.arange(int(seconds * rate)) / rate
    wave = np.zeros(len(at))
    for hertz in chord:
        for k in (1, 2, 3):
            wave += 0.05 / k * np.sin(2 * np.pi * hertz * k * at + k)
    length = int(0.06 * rate)
    since = np.arange(length) / rate
    tone = 0.5 * np.sin(2 * np.pi * 2400 * since) * np.exp(-since / 0.012)
    for beat in beats:
        start = round(beat * rate)
        if 0 <= start < len(wave) - length:
            wave[start : start + length] += tone
    return wave.astype(np.float32)


#: A minor: A3, C4, E4 and the A below.
A_MINOR = (110.0, 220.0, 261.63, 329.63)


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """A track on disk, and the seconds of its beats."""

    path: Path
    beats: tuple[float, ...]
    seconds: float


def write_track(
    folder: Path,
    *,
    beats: tuple[float, ...],
    seconds: float,
    rate: int = 44_100,
    channels: int = 1,
    chord: tuple[float, ...] = A_MINOR,
    name: str = "evening.flac",
) -> Track:
    """Write a ticking track into `folder` / music."""
    wave = ticking(beats, seconds, rate=rate, chord=chord)
    path = folder / "music" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, np.repeat(wave[:, None], channels, axis=1), rate)
    return Track(path=path, beats=beats, seconds=seconds)


def course_of(
    pieces: tuple[Piece, ...], *, bars: int = BEATS // 4, track_seconds: float | None = None,
    tail_from: float | None = None, fade_seconds: float = 0.0, quiet_bars: int = 0,
) -> Course:  # fmt: skip
    """Return a course of which only the playing matters."""
    return Course(
        heard=tuple(bar >= quiet_bars for bar in range(bars)),
        energy=(0.5,) * bars,
        phrases=tuple(range(0, bars, 4)),
        turns=(),
        homes=(),
        strongest=(bars // 2, bars // 2 + 4),
        stands_out=False,
        pieces=pieces,
        tail_from=tail_from,
        fade_seconds=fade_seconds,
        track_seconds=track_seconds,
    )


def set_to(beat_seconds: tuple[float, ...], course: Course | None) -> Routine:
    """Return the short routine set to `music/evening.flac`."""
    routine = row_of(SHORT, bpm=20)  # three minutes, the shortest that a brief may ask for
    assert routine.clock.beats == BEATS
    music = Music(kind="track", path="music/evening.flac", beat_seconds=beat_seconds, course=course)
    tempo = (Tempo(bar=0, bpm=Fraction(120)),)
    return replace(routine, tempo=tempo, music=music, brief=None)


def piece(start: float, end: float, at: float) -> Piece:
    return Piece(source=Span(start=start, end=end), at=at)


def looped(beats: tuple[float, ...], *, again_from: int, again_to: int) -> tuple[float, ...]:
    """Return the beats of a session that plays a track whole, its beats `again_from` to `again_to`
    twice."""

    def seconds() -> Iterator[float]:
        yield from beats[:again_to]
        shift = beats[again_to] - beats[again_from]
        yield from (b + shift for b in beats[again_from:])

    return tuple(seconds())
