"""Finished sound, measured on its files: beats, levels, silence, clicks, and what players hear."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter

from rondel.adapters.sound_files import SoundFiles
from rondel.app.make_sound import make_sound
from rondel.app.ports.voice import Speech, SpokenCue
from rondel.app.progress import Silent
from rondel.app.sound_report import SoundReport
from rondel.model.spans import crossings
from rondel.model.time import Tempo
from rondel.music.compose import compose
from rondel.music.instruments.tone import RATE
from rondel.music.score import LayerName, Score
from rondel.music.soundness import measured
from rondel.music.synth import layer_sounds
from sound_routines import CRAFT, fifteen_minutes, four_minutes

Mono = NDArray[np.float64]

ROUTINE = four_minutes(bpm=80)  # 3 min 9 s
SPEAKS_AT = (12.0, 34.0, 75.0, 79.5, 118.0)


def _babble(seconds: float, seed: int) -> NDArray[np.float32]:
    """Return something with the loudness and the syllables of speech, at a foreign rate."""
    rate = 24_000
    at = np.arange(int(seconds * rate)) / rate
    tone = sum(np.sin(2 * np.pi * 118 * k * at + k * k) / k for k in range(1, 30))
    syllables = np.clip(np.sin(2 * np.pi * 3.1 * at + seed), 0, 1) ** 0.6
    noise = np.random.default_rng(seed).standard_normal(len(at)) * 0.3
    wave = (np.asarray(tone) + noise) * syllables
    return np.asarray(wave / np.abs(wave).max() * 0.5, dtype=np.float32)


def _speech() -> Speech:
    return Speech(
        spoken=tuple(
            SpokenCue(
                cue_id=f"c{i + 1:02d}",
                text="",
                start_seconds=at,
                samples=_babble(3.0 + 0.4 * i, i),
                sample_rate=24_000,
            )
            for i, at in enumerate(SPEAKS_AT)
        )
    )


@dataclass(kw_only=True)
class _Made:
    folder: Path
    report: SoundReport
    score: Score

    def sound(self, name: str) -> NDArray[np.float32]:
        samples, rate = soundfile.read(self.folder / name, dtype="float32", always_2d=True)
        assert rate == RATE
        return np.asarray(samples)

    @cached_property
    def session(self) -> NDArray[np.float32]:
        return self.sound("session.flac")

    @cached_property
    def music(self) -> NDArray[np.float32]:
        """The sum of the music's stems."""
        total = np.zeros_like(self.session)
        for layer in self.report.layers:
            total += self.sound(f"stems/{layer}.flac")
        return total


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> _Made:
    folder = tmp_path_factory.mktemp("session")
    report = make_sound(ROUTINE, CRAFT, _speech(), folder, SoundFiles(), Silent())
    return _Made(folder=folder, report=report, score=compose(ROUTINE, CRAFT))


def _novelty(sound: NDArray[np.float32]) -> tuple[Mono, Mono]:
    """Return (seconds, spectral flux) every 5 ms: how much new energy enters from 60 to 3000 Hz."""
    hop, size = 240, 2048
    mono = np.pad(sound.mean(axis=1), (size // 2, size // 2))
    frames = np.lib.stride_tricks.sliding_window_view(mono, size)[::hop] * np.hanning(size)
    spectrum = np.abs(np.fft.rfft(frames, axis=1))
    bins = np.fft.rfftfreq(size, 1 / RATE)
    level = np.log1p(2000 * spectrum[:, (bins > 60) & (bins < 3000)] / size)
    rise = np.maximum(0, level[3:] - level[:-3]).sum(axis=1)
    return (np.arange(len(rise)) + 1.5) * hop / RATE, rise


def _onsets(sound: NDArray[np.float32]) -> Mono:
    seconds, rise = _novelty(sound)
    is_peak = rise == maximum_filter1d(rise, 13)
    return np.asarray(seconds[is_peak & (rise > 1.5 * median_filter(rise, 101) + 0.3)])


def _beats(score: Score) -> Mono:
    return np.array([score.clock.seconds_at(b) for b in range(*score.heard)])


def _is_quiet(at: Mono) -> NDArray[np.bool_]:
    """True where nobody speaks and the music stands at its own level."""
    spans = [(s - 0.7, s + 3.0 + 0.4 * i + 1.8) for i, s in enumerate(SPEAKS_AT)]
    return np.array([not any(a <= t <= b for a, b in spans) for t in at])


def test_the_beats_of_the_finished_sound_are_those_of_the_score(made: _Made) -> None:
    beats = _beats(made.score)
    beats = beats[_is_quiet(beats)]
    onsets = _onsets(made.session)
    off = np.array([onsets[np.argmin(np.abs(onsets - b))] - b for b in beats]) * 1000
    assert len(beats) > 80
    assert np.abs(np.median(off)) <= 20
    assert np.abs(off).max() <= 40


def test_the_pulse_itself_sits_on_every_beat(made: _Made) -> None:
    onsets = _onsets(made.sound("stems/pulse.flac"))
    off = np.array([onsets[np.argmin(np.abs(onsets - b))] - b for b in _beats(made.score)]) * 1000
    assert np.abs(off).max() <= 15


def test_the_encoded_sound_begins_with_the_session(made: _Made) -> None:
    # AAC adds frames before the first; players drop them, so nothing may be shifted.
    encoded = np.concatenate(list(SoundFiles().blocks_of(made.folder / "session.m4a")))
    plain = made.session
    assert abs(len(encoded) - len(plain)) <= 1024
    for start in (20 * RATE, 170 * RATE):
        a = plain[start : start + 2 * RATE].mean(axis=1)
        b = encoded[start - 4096 : start + 2 * RATE + 4096].mean(axis=1)
        shift = int(np.argmax(np.correlate(b[: len(a) // 4 + 8192], a[: len(a) // 4], "valid")))
        assert abs(shift - 4096) <= 48


def _rhythmic(sound: NDArray[np.float32], beat_seconds: float) -> float:
    """Return how strongly onsets repeat at the beat, 0 to 1: autocorrelation of the flux."""
    _, rise = _novelty(sound)
    rise = np.maximum(0, rise - median_filter(rise, 201))
    rise -= rise.mean()
    power = float((rise * rise).sum())
    lag = round(beat_seconds * 200)
    around = [float((rise[k:] * rise[:-k]).sum()) / power for k in range(lag - 2, lag + 3)]
    return max(around)


def test_the_opening_gives_no_pulse(made: _Made) -> None:
    first, past = (made.score.clock.seconds_at(b) for b in made.score.heard)
    beat = made.score.clock.seconds_at(1)
    opening = made.music[: int((first - 0.1) * RATE)]
    heard = made.music[int(first * RATE) : int((first + 60) * RATE)]
    assert _rhythmic(heard, beat) > 0.3
    assert _rhythmic(opening, beat) < 0.1
    assert _rhythmic(made.music[int((past + 1) * RATE) :], beat) < 0.1


def test_the_session_stands_at_its_loudness_and_under_its_peak(made: _Made) -> None:
    report = made.report
    assert report.loudness.integrated == pytest.approx(-16.0, abs=0.5)
    assert report.loudness.true_peak_db <= -1.0
    assert report.encoded.integrated == pytest.approx(-16.0, abs=0.5)
    assert report.encoded.true_peak_db <= -1.0
    # A meter we did not write, on the file itself.
    other = pyloudnorm.Meter(RATE).integrated_loudness(made.session)
    assert other == pytest.approx(-16.0, abs=0.5)


def test_speech_stands_fourteen_above_the_music_under_it(made: _Made) -> None:
    assert [c.cue_id for c in made.report.cues] == [f"c{i + 1:02d}" for i in range(len(SPEAKS_AT))]
    assert min(c.above_music_lu for c in made.report.cues) >= 14.5
    # And measured on the files by another meter: voice against all that is not voice.
    gain = np.float32(10 ** (made.report.master_gain_db / 20))
    voice = made.sound("stems/voice.flac") * gain
    rest = made.session - voice
    meter = pyloudnorm.Meter(RATE)
    for cue, spoken in zip(made.report.cues, _speech().spoken, strict=True):
        span = slice(int(cue.start_seconds * RATE), int(spoken.end_seconds * RATE))
        above = meter.integrated_loudness(voice[span]) - meter.integrated_loudness(rest[span])
        assert above >= 13.9  # the rest holds what the limiter took from the voice


def test_the_voice_keeps_one_level(made: _Made) -> None:
    levels = [c.voice_lufs for c in made.report.cues]
    assert max(levels) - min(levels) <= 1.0


def test_stems_add_up_to_the_session(made: _Made) -> None:
    mix = made.music * np.float32(10 ** (made.report.master_gain_db / 20))
    # Compared where nobody speaks and no peak is near that the limiter would take.
    tall = maximum_filter1d(np.abs(mix).max(axis=1), 2 * 2200)
    calm = tall < 0.5
    for start, end, _ in made.report.ducks:
        calm[int((start - 0.7) * RATE) : int((end + 1.7) * RATE)] = False
    assert calm.mean() > 0.2
    assert np.abs(mix[calm] - made.session[calm]).max() < 1e-3


def test_every_layer_is_heard_wherever_it_has_notes(made: _Made) -> None:
    for layer in made.score.layers:
        stem = made.sound(f"stems/{layer.name}.flac")
        for note in layer.notes:
            start = int(made.score.start_seconds(note) * RATE)
            end = max(start + RATE // 4, int(made.score.end_seconds(note) * RATE))
            level = np.sqrt((stem[start:end] ** 2).mean())
            assert 20 * np.log10(level + 1e-9) > -62, (layer.name, note)
    names = {p.name for p in (made.folder / "stems").iterdir()}
    assert names == {f"{layer.name}.flac" for layer in made.score.layers} | {"voice.flac"}


def test_the_motif_sounds_alike_at_each_return(made: _Made) -> None:
    routine = fifteen_minutes()
    score = compose(routine, CRAFT)
    (motif,) = [sound for sound in layer_sounds(score) if sound.name is LayerName.MOTIF]
    starts = [round(routine.start_seconds(row[0]) * RATE) for row in routine.refrains]
    length = round(20 * RATE)
    first, *others = [motif.block(start, length) for start in starts]
    assert np.abs(first).max() > 0.02
    assert all(np.array_equal(first, other) for other in others)


def test_rises_end_with_the_change(made: _Made) -> None:
    stem = made.sound("stems/riser.flac")
    for crossing in crossings(ROUTINE):
        end = round(made.score.clock.seconds_at(crossing.end_beat) * RATE)
        before = np.sqrt((stem[end - RATE // 2 : end] ** 2).mean())
        early = np.sqrt((stem[end - 3 * RATE : end - 5 * RATE // 2] ** 2).mean())
        after = np.abs(stem[end + 64 : end + RATE // 4]).max()
        assert before > 1.5 * early
        assert after < 1e-4


def test_it_ends_in_silence_after_a_natural_decay(made: _Made) -> None:
    sound = made.session
    assert np.abs(sound[-RATE:]).max() < 1e-4
    seconds = len(sound) // RATE
    close = [np.sqrt((sound[s * RATE : (s + 1) * RATE] ** 2).mean()) for s in range(seconds)]
    assert len(sound) == round(ROUTINE.clock.total_seconds * RATE)
    tail = 20 * np.log10(np.array(close[-12:]) + 1e-9)
    assert tail[0] > -50
    assert np.diff(tail).max() < 6.0  # nothing new enters


def test_nothing_clips_and_nothing_leans(made: _Made) -> None:
    for path in [made.folder / "session.flac", *(made.folder / "stems").iterdir()]:
        sound = made.sound(str(path.relative_to(made.folder)))
        assert np.abs(sound).max() < 0.999, path.name
        assert np.abs(sound.mean(axis=0)).max() < 1e-4, path.name


def _clicks(sound: NDArray[np.float32]) -> int:
    return len(measured(sound).clicks)


def test_nothing_clicks(made: _Made) -> None:
    for layer in made.report.layers:
        assert _clicks(made.sound(f"stems/{layer}.flac")) == 0, layer
    # The session between the cues: the stand-in for speech begins with a click of its own.
    ends = [0.0, *(end for _, end, _ in made.report.ducks)]
    starts = [*(start for start, _, _ in made.report.ducks), made.report.seconds]
    for since, until in zip(ends, starts, strict=True):
        span = made.session[int((since + 0.1) * RATE) : int((until - 0.1) * RATE)]
        assert len(span) < RATE or _clicks(span) == 0


def test_the_report_measures_no_fault(made: _Made) -> None:
    # Silence at the end included, and no clicks in the music.
    assert made.report.soundness.faults == ()


def test_a_click_and_a_seam_would_be_found(made: _Made) -> None:
    pad = made.sound("stems/pad.flac")[20 * RATE : 60 * RATE].copy()
    assert _clicks(pad) == 0
    pad[10 * RATE] += 0.02
    assert _clicks(pad) >= 1
    pad[10 * RATE] -= 0.02
    seam = 20 * RATE + int(np.argmax(np.abs(pad[20 * RATE : 21 * RATE].mean(axis=1))))
    pad[seam:] *= 0.5
    assert _clicks(pad) >= 1


def test_the_report_is_plain_data(made: _Made) -> None:
    words = json.loads(json.dumps(made.report.as_dict()))
    assert words["loudness"]["integrated"] == round(made.report.loudness.integrated, 3)
    assert set(words["stage_seconds"]) == {
        "Playing the music",
        "Mixing the sound",
        "Hearing the result",
    }
    assert {"score.mid", "session.flac", "session.m4a", "stems/voice.flac"} <= set(words["files"])
    assert all((made.folder / name).is_file() for name in words["files"])


def test_nothing_but_what_is_named_stays_in_the_folder(made: _Made) -> None:
    found = {str(p.relative_to(made.folder)) for p in made.folder.rglob("*") if p.is_file()}
    assert found == set(made.report.files)


def test_without_speech_there_is_no_voice_and_the_loudness_holds(tmp_path: Path) -> None:
    quick = replace(ROUTINE, tempo=(Tempo(bar=0, bpm=Fraction(200)),))
    report = make_sound(quick, CRAFT, None, tmp_path, SoundFiles(), Silent())
    assert report.loudness.integrated == pytest.approx(-16.0, abs=0.5)
    assert report.cues == ()
    assert not (tmp_path / "stems" / "voice.flac").exists()
