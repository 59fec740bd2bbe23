"""Mix music and voice at one loudness, and write session.flac and session.m4a."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from rondel.app.ports.sound import Loudness, SoundWorks
from rondel.app.ports.voice import Speech
from rondel.app.progress import Progress
from rondel.app.scratch import Scratch
from rondel.app.sound_report import CueLevel
from rondel.music.ducking import Duck, curve, ducked, gain_block, plan_ducks
from rondel.music.instruments.tone import RATE, Stereo
from rondel.music.limiter import CONTEXT, limited
from rondel.music.loudness_targets import LoudnessTarget
from rondel.music.soundness import Listener, Soundness
from rondel.music.voice_track import PlacedCue, place, voice_block
from rondel.music.weighing import HOP, Energies, Weigher, integrated, loudest_short_term

SOUND, SOUND_SMALL, VOICE = "session.flac", "session.m4a", "stems/voice.flac"
MIX_FILES = (SOUND, SOUND_SMALL)

#: The true peak of the session. One decibel below the -1 dBTP allowed is kept for what AAC adds.
CEILING_DB = -2.0

#: The voice stands this far above the music where the music is alone, LU.
VOICE_OVER_MUSIC = 1.5

#: Near silence is left near silence.
MOST_GAIN_DB = 30.0

#: What the limiter takes can only be measured. Further off than this, the mix is made again with so
#: much more gain, this many times in all.
NEAR_LU, MOST_TRIES = 0.25, 3

BLOCK = 10 * RATE
THREADS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What is mixed: the music in a scratch with its energies, `frames` long, and where to."""

    music: Scratch
    energies: Energies
    frames: int
    speech: Speech | None
    out: Path
    sound: SoundWorks
    progress: Progress
    silences: tuple[tuple[float, float], ...] = ()
    threads: int = THREADS


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Cues, ducks and the one gain that brings the whole to its loudness."""

    cues: tuple[PlacedCue, ...]
    ducks: tuple[Duck, ...]
    gains: NDArray[np.float32]
    voice: Energies
    master: float

    @property
    def master_db(self) -> float:
        return 20 * math.log10(self.master)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixed:
    """The finished mix as it was written."""

    levels: Levels
    heard: Loudness
    crest_db: float
    cues: tuple[CueLevel, ...]
    soundness: Soundness
    files: tuple[str, ...]


def spans_of(frames: int) -> list[tuple[int, int]]:
    """Return (start, frames) of the blocks that sound is made in."""
    return [(at, min(BLOCK, frames - at)) for at in range(0, frames, BLOCK)]


def faintest(target: LoudnessTarget) -> float:
    """Return how faint music may be, LUFS, to be raised to `target` by itself."""
    return target.lufs - MOST_GAIN_DB


def set_levels(ground: Ground, target: LoudnessTarget) -> Levels:
    """Return the levels at which the session should stand at `target`."""
    music = ground.energies
    spoken = ground.speech.heard if ground.speech else ()
    # Music too faint to be raised so far does not take the voice down with it.
    stands = max(integrated(music), faintest(target))
    cues = place(spoken, stands + VOICE_OVER_MUSIC, ground.frames)
    weigher = Weigher()
    voice = np.concatenate(
        [weigher.add(voice_block(cues, start, n)) for start, n in spans_of(ground.frames)]
    )
    ducks = plan_ducks(cues, music, voice)
    gains = curve(ducks, ground.frames)
    # Voice and music are strangers to each other, so their energies add.
    whole = integrated(ducked(music, gains) + voice)
    gain = min(target.lufs - whole, MOST_GAIN_DB)
    return Levels(cues=cues, ducks=ducks, gains=gains, voice=voice, master=10 ** (gain / 20))


def mix_sound(ground: Ground, levels: Levels, target: LoudnessTarget) -> Mixed:
    """Write the mix, again with more gain where the limiter took too much, and return it."""
    for attempt in range(1, MOST_TRIES + 1):
        mixed = _Mix(ground=ground, levels=levels).made()
        off = target.lufs - mixed.heard.integrated
        may_rise = math.isfinite(off) and levels.master_db + off <= MOST_GAIN_DB
        if abs(off) <= NEAR_LU or not may_rise or attempt == MOST_TRIES:
            break
        levels = replace(levels, master=levels.master * 10 ** (off / 20))
    return mixed


@dataclass(kw_only=True)
class _Mix:
    """One mix on its way to disk."""

    ground: Ground
    levels: Levels
    under: list[Energies] = field(default_factory=list)
    peak: float = 0.0
    power: float = 0.0

    def made(self) -> Mixed:
        ground = self.ground
        meter, listener = ground.sound.meter(), Listener(ground.silences)

        def hear(block: Stereo) -> None:
            meter.add(block)
            listener.add(block)

        ground.progress.begin("Mixing the sound", ground.frames / RATE)
        self._write(hear)
        ground.progress.end()
        crest = self.peak / math.sqrt(self.power / ground.frames) if self.power else 1.0
        return Mixed(
            levels=self.levels,
            heard=meter.result(),
            crest_db=20 * math.log10(crest),
            cues=_cue_levels(self.levels, np.concatenate(self.under)),
            soundness=listener.result(),
            files=MIX_FILES,
        )

    def _write(self, hear: Callable[[Stereo], None]) -> None:
        """Write both files; each has a thread of its own."""
        ceiling = 10 ** (CEILING_DB / 20)
        weigher = Weigher()
        with ExitStack() as stack:
            open_sink = self.ground.sound.open_sink
            sinks = [stack.enter_context(open_sink(self.ground.out / n)) for n in MIX_FILES]
            pool = stack.enter_context(ThreadPoolExecutor(self.ground.threads))
            jobs: list[Future[None]] = []
            for start, frames in spans_of(self.ground.frames):
                music, voice = self._parts(start - CONTEXT, frames + 2 * CONTEXT)
                inner = slice(CONTEXT, CONTEXT + frames)
                mix = limited(music + voice, ceiling)
                _finish(jobs)  # blocks must reach each file in order
                jobs = [pool.submit(sink.write, mix) for sink in (sinks[1], sinks[0])]
                jobs.append(pool.submit(hear, mix))
                self.under.append(weigher.add(music[inner]))
                self.peak = max(self.peak, float(np.abs(mix).max(initial=0.0)))
                self.power += float(np.square(mix, dtype=np.float64).sum()) / 2
                self.ground.progress.advance(frames / RATE)
            _finish(jobs)

    def _parts(self, start: int, frames: int) -> tuple[Stereo, Stereo]:
        """Return (music under its ducks, voice), both at master gain; silence outside."""
        levels = self.levels
        music = self.ground.music.read(start, frames)
        if levels.ducks:
            music *= gain_block(levels.gains, start, frames)
        master = np.float32(levels.master)
        return music * master, voice_block(levels.cues, start, frames) * master


def _finish(jobs: list[Future[None]]) -> None:
    for job in jobs:
        job.result()


def _cue_levels(levels: Levels, under: Energies) -> tuple[CueLevel, ...]:
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
