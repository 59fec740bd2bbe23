"""Hear a brought track: its sound once through, then beats and form, with what was put right."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from rondel.app.ports.sound import Loudness, LoudnessMeter
from rondel.app.ports.tracks import BesideTrack, Kept, Tracks
from rondel.app.progress import Progress
from rondel.listening.features import RATE as LISTENING_RATE
from rondel.listening.features import Features, FeatureStream
from rondel.listening.hearing import corrected, first_heard
from rondel.listening.network import BeatNetwork
from rondel.model.codec.corrections import corrections_text
from rondel.model.codec.moments import moment_says
from rondel.model.corrections import NONE, Corrections
from rondel.model.errors import BadInput
from rondel.model.track import Heard

METER_RATE = 48_000
#: Into how many parts the shape of a track is told.
SHAPE_PARTS = 720
#: Below this a track is silent, LUFS: the gate of EBU R 128.
SILENT = -70.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be put right now. `times`: so many times as fast as first heard; `forget`: kinds
    of earlier corrections to take back first."""

    more: Corrections = NONE
    times: float | None = None
    forget: tuple[str, ...] = ()


NOTHING = Asked()


@dataclass(frozen=True, slots=True, kw_only=True)
class HearTools:
    """What hearing a track asks of the outside. `way` is the digest of the way of listening."""

    tracks: Tracks
    beside: BesideTrack
    meter: Callable[[], LoudnessMeter]
    network: Callable[[], BeatNetwork]
    way: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTrack:
    """What was heard, with corrections; what they are; and the tempo as it was first heard."""

    heard: Heard
    corrections: Corrections
    first_bpm: float
    first_beats_per_bar: int
    was_kept: bool


def hear_track(
    track: Path, tools: HearTools, *, progress: Progress, asked: Asked = NOTHING
) -> HeardTrack:
    """Hear `track`, or return what is kept of it where neither it nor its corrections changed.

    What is asked for now is added to the corrections beside the track. Raises BadInput where the
    track cannot be read or a correction cannot be; nothing is written then.
    """
    before = tools.beside.corrections(track)
    corrections = before
    for kind in asked.forget:
        corrections = corrections.forgetting(kind)
    digest = tools.tracks.digest(track)
    kept = tools.beside.kept(track)
    if kept is not None and asked.times is None:
        corrections = corrections.then(asked.more)
        if kept.made_from == _made_from(digest, corrections, tools.way):
            if corrections != before:
                tools.beside.correct(track, corrections)
            return _result(kept, corrections, was_kept=True)
    features, loudness = _listen(track, tools, progress)
    progress.begin("finding beats and form", 1)
    network = tools.network()
    first = first_heard(features, network)
    wanted = corrections.then(_resolved(asked, first))
    _refuse_beyond(wanted, first.seconds)
    heard = replace(
        corrected(first, features, network, wanted),
        loudness=loudness.integrated if loudness.integrated > SILENT else None,
        true_peak=loudness.true_peak_db if np.isfinite(loudness.true_peak_db) else None,
        shape=_shape(features),
    )
    progress.end()
    kept = Kept(
        heard=heard,
        first_bpm=first.bpm,
        first_beats_per_bar=first.beats_per_bar,
        made_from=_made_from(digest, wanted, tools.way),
    )
    if wanted != before:
        tools.beside.correct(track, wanted)
    tools.beside.keep(track, kept)
    return _result(kept, wanted, was_kept=False)


def _result(kept: Kept, corrections: Corrections, *, was_kept: bool) -> HeardTrack:
    return HeardTrack(
        heard=kept.heard,
        corrections=corrections,
        first_bpm=kept.first_bpm,
        first_beats_per_bar=kept.first_beats_per_bar,
        was_kept=was_kept,
    )


def _made_from(track: str, corrections: Corrections, way: str) -> dict[str, str]:
    said = hashlib.sha256(corrections_text(corrections).encode()).hexdigest()
    return {"track": track, "corrections": said, "listening": way}


def _resolved(asked: Asked, first: Heard) -> Corrections:
    """Return what is asked for with a tempo in place of `times`: it then means the same for ever,
    however well a later Rondel hears the track."""
    if asked.times is None:
        return asked.more
    return Corrections(bpm=round(first.bpm * asked.times, 4)).then(asked.more)


def _refuse_beyond(corrections: Corrections, seconds: float) -> None:
    """Raise BadInput where a bar or a span lies after the track's end; taps and sections are looked
    at where they are brought in."""
    spans = (*corrections.with_beat, *corrections.without_beat, corrections.motif)
    told = [*corrections.bars_at, *(span.start for span in spans if span is not None)]
    late = max(told, default=0.0)
    if late > seconds:
        at, end = moment_says(late), moment_says(round(seconds, 1))
        raise BadInput(f"the track ends at {end}, and {at} is later; name an earlier time", at=at)


def _listen(track: Path, tools: HearTools, progress: Progress) -> tuple[Features, Loudness]:
    progress.begin(f"listening to {track.name}", tools.tracks.seconds_told(track))
    stream, meter = FeatureStream(LISTENING_RATE), tools.meter()
    for whole, small in tools.tracks.blocks(track, (METER_RATE, LISTENING_RATE)):
        meter.add(whole)
        stream.feed(small)
        progress.advance(len(whole) / METER_RATE)
    features, loudness = stream.features(), meter.result()
    progress.end()
    return features, loudness


def _shape(features: Features) -> tuple[float, ...]:
    """Return the root mean square in equal parts of the track; 1 is the strongest."""
    rms = features.rms
    edges = np.linspace(0, len(rms), min(SHAPE_PARTS, len(rms)) + 1).astype(int)
    power = np.add.reduceat(rms.astype(float) ** 2, edges[:-1]) / np.diff(edges)
    strongest = power.max(initial=0)
    if strongest <= 0:
        return tuple(0.0 for _ in power)
    return tuple(round(float(part), 3) for part in np.sqrt(power / strongest))
