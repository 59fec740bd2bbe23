"""Play a routine's music, put its voice above it, and write score, stems and session sound."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from rondel.app.gather_music import Gathered, Layer, gather_music
from rondel.app.kept_sound import NAME as KEPT
from rondel.app.kept_sound import NOTHING_KEPT, KeptLayer, KeptSound
from rondel.app.mix_sound import (
    SOUND_SMALL,
    THREADS,
    VOICE,
    Ground,
    Levels,
    faintest,
    mix_sound,
    set_levels,
    spans_of,
)
from rondel.app.play_track import BroughtTrack
from rondel.app.ports.sound import SoundSink, SoundWorks
from rondel.app.ports.voice import Speech
from rondel.app.progress import Progress
from rondel.app.scratch import Scratch, scratch_in
from rondel.app.sound_report import DUCKING, SoundReport, level_notes
from rondel.app.take_stems import NO_STEMS, OwnStems, with_own_stems
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.music.instruments.tone import RATE, Instrument, Stereo
from rondel.music.loudness_targets import SESSION, LoudnessTarget
from rondel.music.score import LayerName
from rondel.music.soundness import Listener, Soundness
from rondel.music.synth import BUILT_IN
from rondel.music.voice_track import voice_block
from rondel.music.weighing import Energies, Weigher, integrated

SCORE = "score.mid"
KEPT_STEM = f"stems/{KEPT}.flac"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundWishes:
    """What is asked of the sound of a session, and what the teacher brings to it."""

    track: BroughtTrack | None = None
    loudness: LoudnessTarget = SESSION
    has_beat_marks: bool = False
    own_stems: OwnStems = NO_STEMS
    kept: KeptSound = NOTHING_KEPT


def make_sound(
    routine: Routine,
    craft: Craft,
    speech: Speech | None,
    out: Path,
    sound: SoundWorks,
    progress: Progress,
    *,
    instruments: Mapping[LayerName, Instrument] = BUILT_IN,
    wishes: SoundWishes | None = None,
    threads: int = THREADS,
) -> SoundReport:
    """Write score.mid, stems/, session.flac and session.m4a into `out` and return how they measure.

    Without speech there is no voice stem. `threads` work side by side, to the same result. Raises
    OutsideFailure where files cannot be written, and BadInput where her track or a stem of hers is
    not the one for this routine.
    """
    wishes = wishes or SoundWishes()
    music = gather_music(
        routine, craft, instruments, wishes.track, has_beat_marks=wishes.has_beat_marks
    )
    layers = with_own_stems(music.layers, wishes.own_stems, routine.clock.total_seconds)
    sound.write_score(music.score, out / SCORE)
    # Stems take their names last of all, so that those of a make that was stopped are never taken
    # for the teacher's own.
    with scratch_in(out) as scratch, ExitStack() as stems:
        work = _Work(
            music=music,
            layers=layers,
            wishes=wishes,
            speech=speech,
            out=out,
            sound=sound,
            progress=progress,
            scratch=scratch,
            open_stems=stems,
            frames=round(routine.clock.total_seconds * RATE),
            threads=threads,
        )
        work.timed("Playing the music", work.play)
        if wishes.kept.pieces:
            work.timed("Keeping the takes' sound", work.keep)
        return work.mixed()


@dataclass(kw_only=True)
class _Work:
    """What one session of sound is made of, as it comes together."""

    music: Gathered
    layers: tuple[Layer, ...]
    wishes: SoundWishes
    speech: Speech | None
    out: Path
    sound: SoundWorks
    progress: Progress
    scratch: Scratch  # the sum of the music's stems
    open_stems: ExitStack
    frames: int
    threads: int
    energies: list[Energies] = field(default_factory=list)
    stage_seconds: dict[str, float] = field(default_factory=dict)
    soundness: Soundness = field(init=False)
    kept_notes: tuple[str, ...] = ()

    def timed(self, stage: str, work: Callable[[], None]) -> None:
        began = time.perf_counter()
        work()
        self.stage_seconds[stage] = time.perf_counter() - began

    @property
    def stems(self) -> tuple[str, ...]:
        """The files of the stems, where they stand in the session."""
        return tuple(self.wishes.own_stems.file_of(layer.name) for layer in self.layers)

    @property
    def _kept_stems(self) -> tuple[str, ...]:
        return (KEPT_STEM,) if self.wishes.kept.pieces else ()

    def play(self) -> None:
        """Render every layer into its stem, and their sum into the scratch.

        A stem of hers that lies in the session already is read, and never written to.
        """
        self.progress.begin("Playing the music", self.frames / RATE)
        weigher, listener = Weigher(), Listener(self.music.silences)
        sinks = self._stem_sinks()
        with ThreadPoolExecutor(self.threads) as pool:

            def one(layer: Layer, start: int, frames: int) -> Stereo:
                block = layer.block(start, frames)
                if layer.name in sinks:
                    sinks[layer.name].write(block)
                return block

            for start, frames in spans_of(self.frames):
                total = np.zeros((frames, 2), dtype=np.float32)
                for block in pool.map(lambda layer: one(layer, start, frames), self.layers):  # noqa: B023
                    total += block
                self.scratch.append(total)
                self.energies.append(weigher.add(total))
                listener.add(total)
                self.progress.advance(frames / RATE)
        self.progress.end()
        self.soundness = listener.result()

    def keep(self) -> None:
        """Lay the takes' own sound under the music, as a stem of its own."""
        self.progress.begin("Keeping the takes' sound", self.frames / RATE)
        found = KeptLayer(kept=self.wishes.kept, frames=self.frames, silences=self.music.silences)
        layer = found.layer(found.gain(integrated(np.concatenate(self.energies))))
        sink, weigher = self._open_stem(KEPT_STEM), Weigher()
        self.energies = []
        for start, frames in spans_of(self.frames):
            block = layer.block(start, frames)
            sink.write(block)
            total = self.scratch.read(start, frames) + block
            self.scratch.rewrite(start, total)
            self.energies.append(weigher.add(total))
            self.progress.advance(frames / RATE)
        self.progress.end()
        self.kept_notes = tuple(found.notes.values())

    def _stem_sinks(self) -> dict[str, SoundSink]:
        own = self.wishes.own_stems
        return {
            layer.name: self._open_stem(name)
            for layer, name in zip(self.layers, self.stems, strict=True)
            if not own.is_in_place(layer.name)
        }

    def _open_stem(self, name: str) -> SoundSink:
        return self.open_stems.enter_context(self.sound.open_sink(self.out / name))

    def _write_voice(self, levels: Levels) -> tuple[str, ...]:
        """Write the voice's stem, where anything is said, and return its name."""
        if not levels.cues:
            return ()
        sink = self._open_stem(VOICE)
        for start, frames in spans_of(self.frames):
            sink.write(voice_block(levels.cues, start, frames))
        return (VOICE,)

    def mixed(self) -> SoundReport:
        """Mix what was played with the voice, and return the report."""
        ground = Ground(
            music=self.scratch,
            energies=np.concatenate(self.energies),
            frames=self.frames,
            speech=self.speech,
            out=self.out,
            sound=self.sound,
            progress=self.progress,
            silences=self.music.silences,
            threads=self.threads,
        )
        target = self.wishes.loudness
        levels = set_levels(ground, target)
        voice = self._write_voice(levels)
        began = time.perf_counter()
        mixed = mix_sound(ground, levels, target)
        self.stage_seconds["Mixing the sound"] = time.perf_counter() - began
        music_lufs = integrated(ground.energies)
        level_says = level_notes(
            mixed.heard, target, music_lufs, is_faint=music_lufs < faintest(target)
        )
        encoded = self.sound.meter()

        def listen() -> None:
            self.progress.begin("Hearing the result", self.frames / RATE)
            for block in self.sound.blocks_of(self.out / SOUND_SMALL):
                encoded.add(block)
            self.progress.end()

        self.timed("Hearing the result", listen)
        return SoundReport(
            seconds=self.frames / RATE,
            key=self.music.key,
            layers=(
                *(str(layer.name) for layer in self.layers),
                *([KEPT] if self._kept_stems else []),
            ),
            target=target,
            loudness=mixed.heard,
            encoded=encoded.result(),
            master_gain_db=mixed.levels.master_db,
            crest_db=mixed.crest_db,
            # Words hold clicks of their own, so clicks are those of the music.
            soundness=replace(mixed.soundness, clicks=self.soundness.clicks),
            cues=mixed.cues,
            ducks=tuple((d.start / RATE, d.end / RATE, d.depth_db) for d in levels.ducks),
            ducking_seconds=DUCKING,
            own_stems=self.wishes.own_stems.told,
            stage_seconds=self.stage_seconds,
            notes=(
                *self.music.notes,
                *self.wishes.own_stems.notes,
                *self.kept_notes,
                *level_says,
            ),
            files=(SCORE, *self.stems, *self._kept_stems, *voice, *mixed.files),
        )
