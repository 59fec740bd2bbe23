"""Planted faults of sound are found, and sound without a fault is left alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rondel.music.instruments import sustained
from rondel.music.instruments.piano import SoftPiano
from rondel.music.instruments.struck import Glass, HandDrum, Pulse
from rondel.music.instruments.tone import RATE, Instrument, Stereo, Tone
from rondel.music.soundness import Listener, Soundness, measured

SECONDS = 6


def _played(instrument: Instrument, pitch: int = 60) -> Stereo:
    block = np.zeros((SECONDS * RATE, 2), dtype=np.float32)
    tone = Tone(start=RATE, frames=2 * RATE, rise=None, pitch=pitch, velocity=90, number=0)
    instrument.sound(tone).add_to(block, 0)
    return block


PAD = _played(sustained.PAD)


@pytest.mark.parametrize(
    "instrument", [sustained.DRONE, sustained.PAD, SoftPiano(), Glass(), Pulse(), HandDrum()]
)
def test_a_played_tone_has_no_fault(instrument: Instrument) -> None:
    found = measured(_played(instrument), [(0.0, 1.0)])
    assert found.faults == ()
    assert found.is_sound


def test_a_lean_is_found() -> None:
    assert measured(PAD + np.float32(0.001)).lean == pytest.approx(0.001, abs=2e-4)
    assert "DC" in measured(PAD + np.float32(0.001)).faults[0]


@pytest.mark.parametrize("channel", [0, 1])
def test_a_click_in_either_ear_is_found_where_it_is(channel: int) -> None:
    sound = PAD.copy()
    sound[int(2.5 * RATE), channel] += 0.01
    assert measured(sound).clicks == pytest.approx([2.5], abs=0.01)


def test_a_cut_without_a_fade_is_found() -> None:
    # The wave is left at its highest, as where a track is cut anywhere.
    wave = 0.2 * np.sin(2 * np.pi * 220 * np.arange(4 * RATE) / RATE)
    sound = np.stack([wave, wave], axis=1).astype(np.float32)
    sound[2 * RATE + 55 :] = 0
    assert measured(sound).clicks == pytest.approx([2.0], abs=0.01)


def test_a_faded_end_is_no_click() -> None:
    wave = 0.2 * np.sin(2 * np.pi * 220 * np.arange(4 * RATE) / RATE)
    wave[2 * RATE :] *= np.clip(1 - np.arange(2 * RATE) / 960, 0, 1) ** 2
    assert measured(np.stack([wave, wave], axis=1).astype(np.float32)).clicks == ()


def test_flattened_peaks_are_counted_and_single_full_samples_are_not() -> None:
    at = np.arange(RATE)
    wave = np.clip(1.3 * np.sin(2 * np.pi * 100 * at / RATE), -1, 1)
    loud = np.stack([wave, 0.1 * wave], axis=1).astype(np.float32)
    assert measured(loud).clipped == 200  # two peaks of each of a hundred periods, in one ear
    lone = PAD.copy()
    lone[1000] = 1.0
    assert measured(lone).clipped == 0


def test_sound_where_silence_is_planned_is_found() -> None:
    found = measured(PAD, [(2.0, 2.5), (5.9, 6.0)])
    assert found.in_silence > 0.001
    assert any("silence" in says for says in found.faults)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, 40_000), min_size=1, max_size=12))
def test_blocks_of_any_length_measure_alike(cuts: list[int]) -> None:
    sound = np.clip(_faulty(), -1, 1)
    listener, at = Listener([(0.2, 0.4)]), 0
    for length in [*cuts, len(sound)]:
        listener.add(sound[at : at + length])
        at += length
    whole = measured(sound, [(0.2, 0.4)])
    parts = listener.result()
    assert parts.clicks == whole.clicks
    assert parts.clipped == whole.clipped
    assert parts.in_silence == whole.in_silence
    assert parts.lean == pytest.approx(whole.lean, rel=1e-6)


def _faulty() -> Stereo:
    sound = PAD[RATE : 3 * RATE].copy() * 8 + np.float32(0.01)
    sound[RATE // 2] += 0.5
    sound[RATE : RATE + 700] = 1.0
    return sound


def test_what_was_measured_is_said() -> None:
    faults = measured(_faulty(), [(0.2, 0.4)]).faults
    assert len(faults) == 4
    assert Soundness(lean=0, clicks=(), clipped=0, in_silence=0).is_sound
