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
from rondel.listening.corrections import moved_once, moves_aside
from rondel.listening.features import RATE as LISTENING_RATE
from rondel.listening.features import Features, FeatureStream
from rondel.listening.hearing import corrected, first_heard
from rondel.listening.meant import meant
from rondel.listening.network import BeatNetwork
from rondel.model.codec.corrections import corrections_text
from rondel.model.codec.moments import moment_says
from rondel.model.corrections import FORGETTABLE, NONE, Corrections
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.track import Heard, HeardFrom, Span

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
MEND = "mend it there, or take back all that you put right with --forget-corrections"


@dataclass(frozen=True, slots=True, kw_only=True)
class HearTools:
    """What hearing a track asks of the outside. `way` is the digest of the way of listening;
    `must_keep`: what was heard was asked to be kept, and is no mere help for the next time."""

    tracks: Tracks
    beside: BesideTrack
    listened: ListenedKept
    meter: Callable[[], LoudnessMeter]
    network: Callable[[], BeatNetwork]
    way: str
    must_keep: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardTrack:
    """What was heard, with corrections; what they are; the tempo as it was first heard; and notes
    for the teacher."""

    heard: Heard
    corrections: Corrections
    first_bpm: float
    first_beats_per_bar: int
    was_kept: bool
    notes: tuple[str, ...] = ()


def hear_track(
    track: Path, tools: HearTools, *, progress: Progress, asked: Asked = NOTHING
) -> HeardTrack:
    """Hear `track`, or return what is kept of it where neither it nor its corrections changed.

    What is asked for now is added to the corrections beside the track. Raises BadInput where the
    track cannot be read or a correction cannot be, and OutsideFailure where what must be kept
    cannot be; nothing is put right then. What was heard is otherwise kept if it can be.
    """
    before = _said_before(track, tools, asked)
    corrections = before or NONE
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
    try:
        kept, wanted = _put_right(listened, corrections, told, asked, tools.network())
    except BadInput:
        _refuse_file(track, tools, listened, corrections)
        raise
    kept = replace(kept, made_from=_made_from(digest, wanted, tools.way))
    notes = _keep(track, tools, kept)
    if wanted != before:
        tools.beside.correct(track, wanted)
    return replace(_result(kept, wanted, was_kept=False), notes=notes)


def _said_before(track: Path, tools: HearTools, asked: Asked) -> Corrections | None:
    """Return what was put right before; None where that cannot be read, and all of it is to be
    taken back. Raises BadInput where it cannot be read otherwise."""
    try:
        return tools.beside.corrections(track)
    except BadInput as error:
        if set(FORGETTABLE) <= set(asked.forget):
            return None
        raise BadInput(f"{error.says}; {MEND}", at=error.at) from error


def _refuse_file(
    track: Path, tools: HearTools, listened: Listened, corrections: Corrections
) -> None:
    """Raise BadInput that names the file, where what was put right before cannot be by itself."""
    try:
        _put_right(listened, corrections, None, NOTHING, tools.network())
    except BadInput as error:
        where = tools.beside.said_in(track)
        raise BadInput(f"{error}; {MEND}", at=where) from error


def _keep(track: Path, tools: HearTools, kept: Kept) -> tuple[str, ...]:
    """Keep what was heard; return a note where it cannot be and need not."""
    try:
        tools.beside.keep(track, kept)
    except OutsideFailure as error:
        if tools.must_keep:
            raise
        return (f"What was heard could not be kept for the next time: {error.says}.",)
    return ()


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
    _refuse_short(asked.more.motif, heard)
    for move in moves_aside(heard, wanted.moved):
        if move not in before.moved:  # asked for now: it cannot be, and is not put aside
            others = tuple(m for m in wanted.moved if m != move)
            without = corrected(first, features, network, replace(wanted, moved=others))
            moved_once(without.sections, move)
    kept = Kept(
        heard=heard, first_bpm=first.bpm, first_beats_per_bar=first.beats_per_bar, made_from={}
    )
    return kept, wanted


def _refuse_short(motif: Span | None, heard: Heard) -> None:
    """Raise BadInput where a motif that is shown now is shorter than a beat. One that was shown
    before stands in the way of no other tempo."""
    if motif is not None and motif.seconds * heard.bpm < 60:
        says = f"it would be shorter than a beat, which lasts {60 / heard.bpm:.2g} seconds"
        raise BadInput(f"{says}; show one place that is whole", at="the motif")


def _result(kept: Kept, corrections: Corrections, *, was_kept: bool) -> HeardTrack:
    came_from = HeardFrom(track=kept.made_from["track"], corrections=said_digest(corrections))
    return HeardTrack(
        heard=replace(kept.heard, heard_from=came_from),
        corrections=corrections,
        first_bpm=kept.first_bpm,
        first_beats_per_bar=kept.first_beats_per_bar,
        was_kept=was_kept,
    )


def _made_from(track: str, corrections: Corrections, way: str) -> dict[str, str]:
    return {"track": track, "corrections": said_digest(corrections), "listening": way}


def said_digest(corrections: Corrections) -> str:
    """Return the SHA-256 of what was put right: the same for the same corrections."""
    return hashlib.sha256(corrections_text(corrections).encode()).hexdigest()


def _refuse_beyond(corrections: Corrections, seconds: float) -> None:
    """Raise BadInput where a bar or a span lies after the track's end; taps and sections are looked
    at where they are brought in."""
    spans = (*corrections.with_beat, *corrections.without_beat, corrections.motif)
    told = [*corrections.bars_at, *(span.start for span in spans if span is not None)]
    if corrections.strongest is not None:
        told.append(corrections.strongest)
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
