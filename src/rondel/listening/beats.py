"""The beats of a track: where they are, how they are counted, and how they may be counted else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rondel.listening.attacks import CLEAR, near_peaks, sharpened
from rondel.listening.doubt import certainty, confidence, doubtful_spans
from rondel.listening.features import SLOW, Features, Floats
from rondel.listening.metre import bars_of
from rondel.listening.network import OFFSET, RATE, BeatNetwork, Impression
from rondel.listening.pulse import Pulse, gains, pulse_at, worth_on
from rondel.listening.quiet import quiet_spans
from rondel.listening.steady import (
    EXPLAINED,
    STRETCH,
    TREND,
    Steady,
    smoothed,
    steady_grid,
)
from rondel.listening.sway import swayed
from rondel.listening.tempo import candidates
from rondel.model.stretches import joined, less
from rondel.model.track import OtherTempo, Span

Seconds = NDArray[np.float64]

AUDIBLE = 0.003  # of the loudest 100 ms: below, the track has not begun or is over (−50 dB)
STIFFNESS = 4.0  # of the tempo curve where the tempo is not constant
HOMING = 0.05  # … and how strongly it comes home where nothing beats
LEAST_PEAK = 0.15  # of the network's certainty, for a peak to speak for a grid
TAP_REACH = 0.09  # seconds around a tap within which its beat is sought
OTHERS = 4
RATIOS = {
    2.0: "twice as fast",
    0.5: "half as fast",
    1.5: "one and a half times as fast",
    2 / 3: "two thirds as fast",
    3.0: "three times as fast",
    1 / 3: "a third as fast",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatsHeard:
    """What is heard of the beats, in seconds; the fields mean what they mean in `Heard`."""

    bpm: float
    is_constant: bool
    beats_per_bar: int
    beats: tuple[float, ...]
    downbeats: tuple[float, ...]
    beatless: tuple[Span, ...]
    unsure: tuple[Span, ...]
    others: tuple[OtherTempo, ...]
    confidence: float


def hear_beats(
    features: Features,
    network: BeatNetwork,
    *,
    bpm: float | None = None,
    taps: Sequence[float] = (),
) -> BeatsHeard:
    """Return the beats of a track; near `bpm`, where given, and where `taps` (seconds) fall.

    A track in which nothing beats has beats all the same, with little confidence, and all of it
    is `beatless` or `unsure`: a routine needs bars even there. Silence has none.
    """
    impression = network.hear(features)
    start, end = _sounding(features)
    beatless, unsure = quiet_spans(impression, features.seconds, features.rms)
    if end - start < 2.0:
        whole = (Span(start=0.0, end=features.seconds),) if features.seconds > 0 else ()
        return _nothing(whole)
    tempi = (bpm,) if bpm else candidates(impression)
    if len(taps) > 1:
        impression = _tapped(impression, np.array(taps))
        tempi = (60.0 / float(np.median(np.diff(taps))),)
    pulses = sorted((pulse_at(impression, tempo) for tempo in tempi), key=lambda p: -p.score)
    pulses = [pulse for pulse in pulses if len(pulse.frames) > 1]
    if not pulses:
        return _nothing((Span(start=0.0, end=features.seconds),))
    beats, rate, is_constant = _placed(features, impression, pulses[0], start, end)
    per_bar, starts, _ = bars_of(impression, beats)
    said, heard = certainty(impression, pulses[0].frames)
    doubtful = doubtful_spans(pulses[0].frames / RATE + OFFSET, said, heard, features.seconds)
    return BeatsHeard(
        bpm=rate,
        is_constant=is_constant,
        beats_per_bar=per_bar,
        beats=tuple(float(beat) for beat in beats),
        downbeats=tuple(float(beats[k]) for k in starts),
        beatless=beatless,
        unsure=less(joined((*unsure, *doubtful)), beatless),
        others=_others(pulses, rate, per_bar, features.seconds),
        confidence=confidence(said, heard),
    )


def _nothing(beatless: tuple[Span, ...]) -> BeatsHeard:
    return BeatsHeard(
        bpm=60.0,
        is_constant=True,
        beats_per_bar=4,
        beats=(),
        downbeats=(),
        beatless=beatless,
        unsure=(),
        others=(),
        confidence=0.0,
    )


def _sounding(features: Features) -> tuple[float, float]:
    """Return from when to when the track sounds at all, in seconds."""
    loud = np.flatnonzero(features.rms > AUDIBLE * max(float(features.rms.max(initial=0)), 1e-4))
    if not len(loud):
        return 0.0, 0.0
    return float(loud[0]) / SLOW, min((float(loud[-1]) + 1) / SLOW, features.seconds)


def _placed(
    features: Features, impression: Impression, pulse: Pulse, start: float, end: float
) -> tuple[Seconds, float, bool]:
    """Return the exact beats from `start` to `end`, their tempo, and whether it is constant."""
    worth = gains(impression)
    best = float(worth_on(worth, pulse.frames).sum())
    usual = _usual_step(impression, pulse.frames)
    # First from all that may be a beat; where much lies between beats, from the row's beats alone.
    for frames in (_peaks(impression), pulse.frames):
        exact, weights = _exact(features, impression, frames)
        grid = steady_grid(exact, weights, usual)
        if grid is not None and grid.trend <= TREND:
            even = _explaining(grid, worth, best, start, end)
            if even is not None:
                return even, 60 / grid.period, True
    at = pulse.frames / RATE + OFFSET
    known = np.where(weights > 0, exact, at)
    known, weights = swayed(known, weights) or (known, weights)
    beats = smoothed(known, np.maximum(weights, 1e-5), STIFFNESS, HOMING)
    beats = _to_both_ends(beats[np.concatenate([[True], np.diff(beats) > 0.05])], start, end)
    sure = beats if len(beats) < 3 else np.diff(beats)
    return beats, 60 / float(np.median(sure)), False


def _explaining(
    grid: Steady, worth: Floats, best: float, start: float, end: float
) -> Seconds | None:
    """Return the grid's beats if they are worth nearly as much as the `best` row, else None.

    A row that changes from the beat to the off-beat after a pause still keeps to one grid: each
    stretch counts as it is worth more, and all beats lie where the whole track says.
    """
    sums = []
    for shift in (0.0, grid.period / 2):
        even = grid.beats(start - shift, end - shift) + shift
        met = worth_on(worth, np.rint((even - OFFSET) * RATE).astype(np.int64))
        sums.append((np.add.reduceat(met, np.arange(0, len(met), STRETCH)), even))
    (on, beats), (off, between) = sums
    shared = min(len(on), len(off))
    if float(np.maximum(on[:shared], off[:shared]).sum()) < EXPLAINED * best:
        return None
    return beats if on.sum() >= off.sum() else between


def _peaks(impression: Impression) -> NDArray[np.int64]:
    """Return the frames on which the network says "beat" more than just before and after."""
    said = impression.beat * impression.heard
    inner = said[1:-1]
    is_peak = (inner > said[:-2]) & (inner >= said[2:]) & (inner > LEAST_PEAK)
    return np.asarray(np.flatnonzero(is_peak) + 1, dtype=np.int64)


def _exact(
    features: Features, impression: Impression, frames: NDArray[np.int64]
) -> tuple[Seconds, Seconds]:
    """Return the exact seconds of beats known to a frame, and how much each is to be trusted."""
    rough = near_peaks(impression, frames)
    sharp, clear = sharpened(features, rough)
    inside = np.clip(frames, 1, max(1, len(impression.beat) - 2))
    weights = worth_on(impression.beat, frames) * impression.heard[inside]
    weights = np.where(weights > 0.1, weights, 0.0) * np.where(clear >= CLEAR, 1.0, 0.4)
    return np.where(clear >= CLEAR, sharp, rough), np.asarray(weights, dtype=np.float64)


def _usual_step(impression: Impression, frames: NDArray[np.int64]) -> float:
    """Return the mean seconds from one beat to the next where a beat is heard."""
    steps = np.diff(frames) / RATE
    heard = impression.heard[frames[1:]] > 0.5
    return float((steps[heard] if heard.sum() > 4 else steps).mean())


def _to_both_ends(beats: Seconds, start: float, end: float) -> Seconds:
    """Continue beats evenly to where the track begins and ends to sound."""
    if len(beats) < 2:
        return beats
    first = float(np.diff(beats[:9]).mean())
    last = float(np.diff(beats[-9:]).mean())
    before = beats[0] - first * np.arange(max(0, int((beats[0] - start) / first)), 0, -1)
    after = beats[-1] + last * np.arange(1, max(0, int((end - beats[-1]) / last)) + 1)
    joined = np.concatenate([before, beats, after])
    return joined[(joined >= max(0.0, start - 0.05)) & (joined <= end + 0.05)]


def _tapped(impression: Impression, taps: Seconds) -> Impression:
    """Return the impression with beats believed only near taps, as far as the taps reach."""
    at = np.arange(len(impression.beat)) / RATE + OFFSET
    after = np.searchsorted(taps, at).clip(1, len(taps) - 1)
    off = np.minimum(np.abs(at - taps[after]), np.abs(at - taps[after - 1]))
    near = np.exp(-0.5 * (off / TAP_REACH) ** 2)
    reach = (at >= taps[0] - 0.5) & (at <= taps[-1] + 0.5)
    believed = np.where(reach, np.maximum(impression.beat, 0.3) * near, impression.beat)
    return replace(
        impression,
        beat=believed.astype(np.float32),
        heard=np.where(reach, 1.0, impression.heard).astype(np.float32),
    )


def _others(
    pulses: list[Pulse], bpm: float, per_bar: int, seconds: float
) -> tuple[OtherTempo, ...]:
    """Return the other tempi that were tried, as likely as their scores say, likelier first."""
    scores = np.array([pulse.score for pulse in pulses]) / max(seconds, 1.0)
    shares = np.exp((scores - scores.max()) * 4)
    shares /= shares.sum()
    others: list[OtherTempo] = []
    for pulse, share in zip(pulses[1:], shares[1:], strict=True):
        ratio = pulse.bpm / bpm
        nearest = min(RATIOS, key=lambda known: abs(np.log(ratio / known)))
        is_simple = abs(np.log(ratio / nearest)) < 0.05
        tempo = bpm * nearest if is_simple else pulse.bpm
        says = RATIOS[nearest] if is_simple else "another tempo"
        if all(abs(np.log(tempo / other.bpm)) > 0.03 for other in others):
            others.append(
                OtherTempo(bpm=tempo, beats_per_bar=per_bar, confidence=float(share), says=says)
            )
    return tuple(others[:OTHERS])
