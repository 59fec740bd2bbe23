"""Compose a routine's music, put its voice above it, and write score, stems and session sound."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import asdict, dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rondel.app.ports.sound import Loudness, SoundSink, SoundWorks
from rondel.app.ports.voice import Speech
from rondel.app.progress import Progress
from rondel.app.scratch import Scratch, scratch_in
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.music.compose import compose
from rondel.music.ducking import Duck, curve, ducked, gain_block, plan_ducks
from rondel.music.instruments.tone import RATE, Instrument, Stereo
from rondel.music.limiter import CONTEXT, limited
from rondel.music.score import LayerName, Score
from rondel.music.synth import BUILT_IN, LayerSound, layer_sounds, session_frames
from rondel.music.voice_track import PlacedCue, place, voice_block
from rondel.music.weighing import HOP, Energies, Weigher, integrated, loudest_short_term

#: Integrated loudness of the session, LUFS (music tracks, AES TD1008), and its true peak.
#: One decibel below the -1 dBTP allowed is kept for what AAC adds.
LOUDNESS, CEILING_DB = -16.0, -2.0

#: The voice stands this far above the music where the music is alone, LU.
VOICE_OVER_MUSIC = 1.5

#: Near silence is left near silence.
MOST_GAIN_DB = 30.0

BLOCK = 10 * RATE
THREADS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class CueLevel:
    """How a cue stands: loudness of the voice, and LU above the music under it."""

    cue_id: str
    start_seconds: float
    voice_lufs: float
    above_music_lu: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundReport:
    """What was made and how it measures; plain enough for made.json.

    The mix before its limiter is `master_gain_db` applied to the sum of the stems, the music's
    stems under the curve of `ducks` ((start second, end second, depth in dB) each).
    """

    seconds: float
    key: str
    layers: tuple[str, ...]
    loudness: Loudness
    encoded: Loudness
    master_gain_db: float
    crest_db: float
    cues: tuple[CueLevel, ...]
    ducks: tuple[tuple[float, float, float], ...]
    stage_seconds: Mapping[str, float]
    files: tuple[str, ...]

    def as_dict(self) -> dict[str, object]:
        """Return it as plain JSON data; numbers to three decimals."""
        return {str(k): _plain(v) for k, v in asdict(self).items()}


def _plain(value: object) -> object:
    if isinstance(value, float):
        return round(value, 3) if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    return value


@dataclass(kw_only=True)
class _Work:
    """What one session of sound is made of, as it comes together."""

    score: Score
    speech: Speech | None
    out: Path
    sound: SoundWorks
    progress: Progress
    scratch: Scratch  # the sum of the music's stems
    frames: int
    music: list[Energies] = field(default_factory=list)
    stage_seconds: dict[str, float] = field(default_factory=dict)
    files: list[str] = field(default_factory=list)

    def timed(self, stage: str, work: Callable[[], None]) -> None:
        began = time.perf_counter()
        self.progress.begin(stage, self.frames / RATE)
        work()
        self.progress.end()
        self.stage_seconds[stage] = time.perf_counter() - began


def make_sound(
    routine: Routine,
    craft: Craft,
    speech: Speech | None,
    out: Path,
    sound: SoundWorks,
    progress: Progress,
    *,
    instruments: Mapping[LayerName, Instrument] = BUILT_IN,
) -> SoundReport:
    """Write score.mid, stems/, session.flac and session.m4a into `out` and return how they measure.

    Without speech there is no voice stem. Raises OutsideFailure where files cannot be written.
    """
    score = compose(routine, craft)
    sound.write_score(score, out / "score.mid")
    with scratch_in(out) as scratch:
        work = _Work(
            score=score,
            speech=speech,
            out=out,
            sound=sound,
            progress=progress,
            scratch=scratch,
            frames=session_frames(score),
        )
        work.files.append("score.mid")
        layers = layer_sounds(score, instruments)
        work.timed("Playing the music", lambda: _play(work, layers))
        return _mix(work)


def _spans(frames: int) -> list[tuple[int, int]]:
    return [(at, min(BLOCK, frames - at)) for at in range(0, frames, BLOCK)]


def _play(work: _Work, layers: tuple[LayerSound, ...]) -> None:
    """Render every layer into its stem, and their sum into the scratch."""
    weigher = Weigher()
    with ExitStack() as stack:
        sinks: dict[LayerName, SoundSink] = {}
        for layer in layers:
            name = f"stems/{layer.name}.flac"
            sinks[layer.name] = stack.enter_context(work.sound.open_sink(work.out / name))
            work.files.append(name)
        pool = stack.enter_context(ThreadPoolExecutor(THREADS))

        def one(layer: LayerSound, start: int, frames: int) -> Stereo:
            block = layer.block(start, frames)
            sinks[layer.name].write(block)
            return block

        for start, frames in _spans(work.frames):
            total = np.zeros((frames, 2), dtype=np.float32)
            for block in pool.map(lambda layer: one(layer, start, frames), layers):  # noqa: B023
                total += block
            work.scratch.append(total)
            work.music.append(weigher.add(total))
            work.progress.advance(frames / RATE)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Levels:
    cues: tuple[PlacedCue, ...]
    ducks: tuple[Duck, ...]
    gains: NDArray[np.float32]
    voice: Energies
    master: float


def _set_levels(work: _Work) -> _Levels:
    """Return cues, ducks and the one gain that brings the whole to its loudness."""
    music = np.concatenate(work.music)
    spoken = work.speech.spoken if work.speech else ()
    cues = place(spoken, integrated(music) + VOICE_OVER_MUSIC, work.frames)
    weigher = Weigher()
    voice = np.concatenate(
        [weigher.add(voice_block(cues, start, frames)) for start, frames in _spans(work.frames)]
    )
    ducks = plan_ducks(cues, music, voice)
    gains = curve(ducks, work.frames)
    # Voice and music are strangers to each other, so their energies add.
    whole = integrated(ducked(music, gains) + voice)
    return _Levels(
        cues=cues,
        ducks=ducks,
        gains=gains,
        voice=voice,
        master=10 ** (min(LOUDNESS - whole, MOST_GAIN_DB) / 20),
    )


def _mixed(work: _Work, levels: _Levels, start: int, frames: int) -> tuple[Stereo, Stereo]:
    """Return (music under its ducks, voice), both at master gain; silence outside the session."""
    music = work.scratch.read(start, frames)
    if levels.ducks:
        music *= gain_block(levels.gains, start, frames)
    master = np.float32(levels.master)
    return music * master, voice_block(levels.cues, start, frames) * master


def _mix(work: _Work) -> SoundReport:
    levels = _set_levels(work)
    meter = work.sound.meter()
    under: list[Energies] = []
    peak_and_power = [0.0, 0.0]

    def write() -> None:
        _write_mix(work, levels, meter.add, under, peak_and_power)

    work.timed("Mixing the sound", write)
    heard = meter.result()
    encoded = work.sound.meter()

    def listen() -> None:
        for block in work.sound.blocks_of(work.out / "session.m4a"):
            encoded.add(block)

    work.timed("Hearing the result", listen)
    peak, power = peak_and_power
    crest = 20 * math.log10(peak / math.sqrt(power / work.frames)) if power else 0.0
    return SoundReport(
        seconds=work.frames / RATE,
        key=work.score.key,
        layers=tuple(str(layer.name) for layer in work.score.layers),
        loudness=heard,
        encoded=encoded.result(),
        master_gain_db=20 * math.log10(levels.master),
        crest_db=crest,
        cues=_cue_levels(levels, np.concatenate(under)),
        ducks=tuple((d.start / RATE, d.end / RATE, d.depth_db) for d in levels.ducks),
        stage_seconds=work.stage_seconds,
        files=tuple(work.files),
    )


def _write_mix(
    work: _Work,
    levels: _Levels,
    hear: Callable[[Stereo], None],
    under: list[Energies],
    peak_and_power: list[float],
) -> None:
    """Write session.flac, session.m4a and the voice stem; each file has a thread of its own."""
    ceiling = 10 ** (CEILING_DB / 20)
    weigher = Weigher()
    with ExitStack() as stack:
        names = ["session.flac", "session.m4a"] + (["stems/voice.flac"] if levels.cues else [])
        sinks = [stack.enter_context(work.sound.open_sink(work.out / n)) for n in names]
        work.files.extend(names)
        pool = stack.enter_context(ThreadPoolExecutor(THREADS))
        jobs: list[Future[None]] = []
        for start, frames in _spans(work.frames):
            wide = _mixed(work, levels, start - CONTEXT, frames + 2 * CONTEXT)
            inner = slice(CONTEXT, CONTEXT + frames)
            mix = limited(wide[0] + wide[1], ceiling)
            _finish(jobs)  # blocks must reach each file in order
            jobs = [pool.submit(sink.write, mix) for sink in (sinks[1], sinks[0])]
            jobs.append(pool.submit(hear, mix))
            if levels.cues:
                jobs.append(pool.submit(sinks[2].write, wide[1][inner] / np.float32(levels.master)))
            under.append(weigher.add(wide[0][inner]))
            peak_and_power[0] = max(peak_and_power[0], float(np.abs(mix).max(initial=0.0)))
            peak_and_power[1] += float(np.square(mix, dtype=np.float64).sum()) / 2
            work.progress.advance(frames / RATE)
        _finish(jobs)


def _finish(jobs: list[Future[None]]) -> None:
    for job in jobs:
        job.result()


def _cue_levels(levels: _Levels, under: Energies) -> tuple[CueLevel, ...]:
    """Return how every cue stands above the music that was really written under it."""
    found = []
    voice = levels.voice * levels.master**2
    for cue in levels.cues:
        span = slice(cue.start // HOP, -(-cue.end // HOP))
        loud = integrated(voice[span])
        level = CueLevel(
            cue_id=cue.cue_id,
            start_seconds=cue.start / RATE,
            voice_lufs=loud,
            above_music_lu=loud - loudest_short_term(under[span]),
        )
        found.append(level)
    return tuple(found)
