"""The parts of the mix by themselves: blocks that join, a limiter that holds, music that yields."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from rondel.adapters.loudness import R128Meter
from rondel.adapters.sound_files import SoundFiles
from rondel.app.make_sound import make_sound
from rondel.app.progress import Silent
from rondel.music.compose import compose
from rondel.music.ducking import (
    ATTACK_SECONDS,
    HOLD_SECONDS,
    RELEASE_SECONDS,
    STANDS_ABOVE,
    Duck,
    curve,
    ducked,
    gain_block,
    plan_ducks,
)
from rondel.music.instruments.tone import RATE, Stereo, Tone
from rondel.music.limiter import CONTEXT, limited
from rondel.music.score import LayerName
from rondel.music.synth import layer_sounds
from rondel.music.voice_track import PlacedCue, place, spoken_loudness, voice_block
from rondel.music.weighing import Weigher, integrated, loudest_short_term
from sound_routines import CRAFT, four_minutes

CEILING_DB = -2.0
CEILING = 10 ** (CEILING_DB / 20)


def _stereo(wave: NDArray[np.floating]) -> Stereo:
    return np.stack([wave, wave], axis=1).astype(np.float32)


def _noise(seconds: float, level: float, seed: int = 1) -> Stereo:
    lot = np.random.default_rng(seed)
    return (lot.standard_normal((int(seconds * RATE), 2)) * level).astype(np.float32)


def _limited_in_blocks(sound: Stereo, block: int) -> Stereo:
    wide = np.pad(sound, ((CONTEXT, CONTEXT), (0, 0)))
    parts = [
        limited(wide[at : min(at + block, len(sound)) + 2 * CONTEXT], CEILING)
        for at in range(0, len(sound), block)
    ]
    return np.concatenate(parts)


@pytest.mark.parametrize(("divisor", "degrees"), [(4, 0.0), (4, 45.0), (6, 60.0), (8, 67.5)])
def test_no_peak_passes_the_limiter_not_even_between_samples(divisor: int, degrees: float) -> None:
    # The waves of EBU Tech 3341 cases 15 to 19, which hide their peaks between samples.
    at = np.arange(2 * RATE)
    swell = np.clip(np.sin(np.pi * at / len(at)) * 1.6, 0, 1.41)
    wave = swell * np.sin(2 * np.pi * at / divisor + np.radians(degrees))
    meter = R128Meter()
    meter.add(_limited_in_blocks(_stereo(wave), RATE))
    assert CEILING_DB - 0.6 <= meter.result().true_peak_db <= CEILING_DB + 0.2


def test_what_is_below_the_ceiling_is_left_as_it_was() -> None:
    sound = np.clip(_noise(3, 0.15), -0.5, 0.5)
    assert np.array_equal(_limited_in_blocks(sound, RATE), sound)


def test_the_limiter_is_the_same_in_any_blocks() -> None:
    sound = _noise(4, 0.4)
    once, blocks = _limited_in_blocks(sound, 4 * RATE), _limited_in_blocks(sound, RATE // 2)
    assert np.abs(once - blocks).max() < 1e-5


def test_the_limiters_gain_moves_without_steps() -> None:
    sound = _stereo(0.5 * np.sin(2 * np.pi * 100 * np.arange(RATE) / RATE))
    sound[RATE // 2 : RATE // 2 + 200] *= 4
    gain = _limited_in_blocks(sound, RATE)[:, 0] / np.where(sound[:, 0] == 0, 1, sound[:, 0])
    gain = gain[np.abs(sound[:, 0]) > 0.01]
    assert gain.min() < 0.5
    assert np.abs(np.diff(gain)).max() < 0.02


def test_layers_sound_the_same_in_any_blocks() -> None:
    score = compose(four_minutes(), CRAFT)
    start, frames = 166 * RATE, 8 * RATE  # into the peak: every instrument but the motif
    for layer in layer_sounds(score):
        whole = layer.block(start, frames)
        parts = [layer.block(start + at, 3 * RATE // 4) for at in range(0, frames, 3 * RATE // 4)]
        joined = np.concatenate(parts)[:frames]
        assert np.abs(whole - joined).max() < 1e-6, layer.name


def test_what_ended_before_a_block_is_left_out_of_it_and_nothing_else_is() -> None:
    """A layer asked for one second knows what rings on from before, as one heard from its start."""
    score = compose(four_minutes(), CRAFT)
    for layer, fresh in zip(layer_sounds(score), layer_sounds(score), strict=True):
        whole = layer.block(150 * RATE, 30 * RATE)
        for second in (157, 166, 171, 179):
            at = (second - 150) * RATE
            assert np.array_equal(fresh.block(second * RATE, RATE), whole[at : at + RATE])


def test_softer_keys_are_darker_and_not_only_quieter() -> None:
    score = compose(four_minutes(), CRAFT)
    (note, *_) = score.layer(LayerName.PIANO)
    (piano,) = [layer.instrument for layer in layer_sounds(score) if layer.name == "piano"]
    shares = []
    for velocity in (30, 60, 110):
        tone = Tone(start=0, frames=RATE, rise=None, pitch=note.pitch, velocity=velocity, number=0)
        block = np.zeros((RATE, 2), dtype=np.float32)
        piano.sound(tone).add_to(block, 0)
        spectrum = np.abs(np.fft.rfft(block.mean(axis=1)))
        shares.append(float(spectrum[1200:6000].sum() / spectrum[:1200].sum()))
    assert shares[0] < shares[1] < shares[2]
    assert shares[2] > 1.5 * shares[0]


def _cue(start: float, seconds: float, level: float = 0.1) -> PlacedCue:
    wave = _noise(seconds, level)[:, 0]
    return PlacedCue(cue_id="c01", start=round(start * RATE), mono=wave)


def test_music_is_down_by_the_first_word_and_returns_in_its_time() -> None:
    gains = curve([Duck(start=5 * RATE, end=8 * RATE, depth_db=12.0)], 20 * RATE)
    db = 20 * np.log10(gain_block(gains, 0, 20 * RATE)[:, 0])
    assert db[5 * RATE] == pytest.approx(-12, abs=0.3)
    assert db[5 * RATE : 8 * RATE].max() < -11.7
    assert db[int((5 - ATTACK_SECONDS - 0.05) * RATE)] == 0
    assert db[int((8 + RELEASE_SECONDS + 0.05) * RATE)] == 0
    assert np.abs(np.diff(db)).max() < 12 / (0.1 * RATE)  # no step, no jump


def test_between_close_cues_the_music_stays_down() -> None:
    cues = [_cue(2, 1), _cue(4, 1), _cue(4 + 1 + HOLD_SECONDS + 3, 1)]
    music = Weigher().add(_noise(20, 0.1, seed=2))
    voice = Weigher().add(voice_block(tuple(cues), 0, 20 * RATE))
    gains = curve(plan_ducks(cues, music, voice), 20 * RATE)
    assert gains[300:400].max() < 0.3
    assert gains[700:750].min() > 0.95


@pytest.mark.parametrize("level", [0.02, 0.05, 0.2])
def test_each_cue_gets_the_depth_that_it_needs(level: float) -> None:
    cue = _cue(3, 4, 0.1)
    music = Weigher().add(_noise(12, level, seed=2))
    voice = Weigher().add(voice_block((cue,), 0, 12 * RATE))
    gains = curve(plan_ducks([cue], music, voice), 12 * RATE)
    span = slice(30, 70)
    above = integrated(voice[span]) - loudest_short_term(ducked(music, gains)[span])
    assert above >= STANDS_ABOVE - 0.3
    if level > 0.03:
        assert above <= STANDS_ABOVE + 0.5  # no deeper than needed


def test_quiet_and_loud_recordings_come_out_alike() -> None:
    class Said:
        def __init__(self, cue_id: str, start_seconds: float, gain: float, rate: int) -> None:
            self.cue_id, self.start_seconds, self.sample_rate = cue_id, start_seconds, rate
            lot = np.random.default_rng(4)
            at = np.arange(3 * rate)
            wave = lot.standard_normal(len(at)) * (0.3 + 0.2 * np.sin(at / rate * 20))
            self.samples = (wave * gain).astype(np.float32)

    said = (Said("b", 9, 0.9, 44_100), Said("a", 1, 0.03, 22_050), Said("c", 19, 0.3, 48_000))
    cues = place(said, -18.0, 20 * RATE)
    assert [c.cue_id for c in cues] == ["a", "b", "c"]
    assert [c.start for c in cues] == [RATE, 9 * RATE, 19 * RATE]
    assert cues[-1].end <= 20 * RATE
    for cue in cues[:2]:
        assert spoken_loudness(cue.mono) == pytest.approx(-18.0, abs=0.2)


def test_weighing_in_blocks_equals_weighing_at_once() -> None:
    sound = _noise(6, 0.1)
    whole, weigher = Weigher().add(sound), Weigher()
    parts = np.concatenate([weigher.add(sound[at : at + RATE]) for at in range(0, 6 * RATE, RATE)])
    assert parts == pytest.approx(whole, rel=1e-3)


def test_even_one_bar_becomes_a_session(tmp_path: Path) -> None:
    routine = four_minutes()
    passage = replace(
        routine.passages[0], bars=1, beats_per_stroke=Fraction(4), first_landing_beat=Fraction(2)
    )
    routine = replace(routine, bars=1, passages=(passage,))
    report = make_sound(routine, CRAFT, None, tmp_path, SoundFiles(), Silent())
    assert report.seconds == 4.0
    assert report.loudness.true_peak_db <= -1.0
