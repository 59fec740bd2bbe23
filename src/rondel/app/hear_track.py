"""Hear a brought track: its sound once through, then beats and form, with what was put right."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from rondel.app.ports.sound import Loudness, LoudnessMeter
from rondel.app.ports.tracks import BesideTrack, Kept, Listened, ListenedKept, Tracks
from rondel.app.progress import Progress
from rondel.listening.features import RATE as LISTENING_RATE
from rondel.listening.features import Features, FeatureStream
from rondel.listening.hearing import corrected, first_heard
from rondel.listening.meant import meant
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
    """What is to be put right now, of what is told so far. `times`: so many times as fast;
    `forget`: kinds of earlier corrections to take back first; `forgets_sound`: nothing of the sound
    stays kept."""

    more: Corrections = NONE
    times: float | None = None
    forget: tuple[str, ...] = ()
    forgets_sound: bool = False


NOTHING = Asked()


@dataclass(frozen=True, slots=True, kw_only=True)
class HearTools:
    """What hearing a track asks of the outside. `way` is the digest of the way of listening."""

    tracks: Tracks
    beside: BesideTrack
    listened: ListenedKept
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
    track cannot be read or a correction cannot be; nothing is put right then.
    """
    before = tools.beside.corrections(track)
    corrections = before
    for kind in asked.forget:
        corrections = corrections.forgetting(kind)
    digest = tools.tracks.digest(track)
    if asked.forgets_sound:
        tools.listened.forget(digest)
    kept = tools.beside.kept(track)
    is_known = set(asked.more.moved) <= set(corrections.moved)
    if kept is not None and asked.times is None and is_known:
        wanted = corrections.then(replace(asked.more, moved=()))
        if kept.made_from == _made_from(digest, wanted, tools.way):
            if wanted != before:
                tools.beside.correct(track, wanted)
            return _result(kept, wanted, was_kept=True)
    listened = _listened(track, digest, tools, progress, keeps=not asked.forgets_sound)
    is_told = kept is not None and kept.made_from == _made_from(digest, corrections, tools.way)
    told = kept.heard if kept is not None and is_told else None
    kept, wanted = _put_right(listened, corrections, told, asked, tools.network())
    kept = replace(kept, made_from=_made_from(digest, wanted, tools.way))
    if wanted != before:
        tools.beside.correct(track, wanted)
    tools.beside.keep(track, kept)
    return _result(kept, wanted, was_kept=False)


def _listened(
    track: Path, digest: str, tools: HearTools, progress: Progress, *, keeps: bool
) -> Listened:
    """Return what was listened to in `track`, from what is kept of it where that is so."""
    found = tools.listened.listened(digest, tools.way)
    if found is not None:
        return found
    features, loudness = _listen(track, tools, progress)
    progress.begin("finding beats and form", 1)
    found = Listened(
        features=features,
        loudness=loudness.integrated if loudness.integrated > SILENT else None,
        true_peak=loudness.true_peak_db if np.isfinite(loudness.true_peak_db) else None,
        first=first_heard(features, tools.network()),
    )
    progress.end()
    if keeps:
        tools.listened.keep(digest, tools.way, found)
    return found


def _put_right(
    listened: Listened,
    before: Corrections,
    told: Heard | None,
    asked: Asked,
    network: BeatNetwork,
) -> tuple[Kept, Corrections]:
    """Return what is heard with the corrections `before` and what is asked now, and all of them.

    `told`: what is heard with those `before`, where it is known.
    """
    first, features = listened.first, listened.features
    wanted = before.then(asked.more)
    if asked.times is not None or asked.more.moved:
        shown = told or corrected(first, features, network, before)
        wanted = meant(asked.more, asked.times, before, shown, first)
    _refuse_beyond(wanted, first.seconds)
    heard = replace(
        corrected(first, features, network, wanted),
        loudness=listened.loudness,
        true_peak=listened.true_peak,
        shape=_shape(features),
    )
    kept = Kept(
        heard=heard, first_bpm=first.bpm, first_beats_per_bar=first.beats_per_bar, made_from={}
    )
    return kept, wanted


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


def _refuse_beyond(corrections: Corrections, seconds: float) -> None:
    """Raise BadInput where a bar or a span lies after the track's end; taps and sections are looked
    at where they are brought in."""
    spans = (*corrections.with_beat, *corrections.without_beat, corrections.motif)
    told = [*corrections.bars_at, *(span.start for span in spans if span is not None)]
    late = max(told, default=0.0)
    if late >= seconds:
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
