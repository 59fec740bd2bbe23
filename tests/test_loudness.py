"""The loudness meter against the published cases of EBU Tech 3341 and 3342 and BS.1770.

EBU Tech 3341 v4 (2023), table 1: stereo 1 kHz sines, levels in dBFS peak, tolerance 0.1 LU; true
peak +0.2/-0.4 dB. EBU Tech 3342: loudness range, tolerance 1 LU.
"""

from __future__ import annotations

import math

import numpy as np
import pyloudnorm
import pytest

from rondel.adapters.loudness import RATE, R128Meter
from rondel.app.ports.sound import Block, Loudness
from rondel.music.weighing import Weigher, integrated, loudness

Steps = tuple[tuple[float, float], ...]  # (seconds, dBFS peak)


def _tones(steps: Steps, hertz: float = 1000.0) -> Block:
    frames = [round(seconds * RATE) for seconds, _ in steps]
    level = np.concatenate(
        [np.full(n, 10 ** (db / 20)) for n, (_, db) in zip(frames, steps, strict=True)]
    )
    wave = level * np.sin(2 * np.pi * hertz * np.arange(len(level)) / RATE)
    return np.stack([wave, wave], axis=1).astype(np.float32)


def _measured(sound: Block, block: int = 48_123) -> Loudness:
    meter = R128Meter()
    for start in range(0, len(sound), block):
        meter.add(sound[start : start + block])
    return meter.result()


CASES: dict[str, tuple[Steps, float]] = {
    "3341-1": (((20, -23),), -23),
    "3341-2": (((20, -33),), -33),
    "3341-3": (((10, -36), (60, -23), (10, -36)), -23),
    "3341-4": (((10, -72), (10, -36), (60, -23), (10, -36), (10, -72)), -23),
    "3341-5": (((20, -26), (20.1, -20), (20, -26)), -23),
}


@pytest.mark.parametrize("case", CASES)
def test_integrated_loudness_as_in_tech_3341(case: str) -> None:
    steps, expected = CASES[case]
    assert _measured(_tones(steps)).integrated == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("case", CASES)
def test_the_mixers_own_weighing_meets_the_same_cases(case: str) -> None:
    steps, expected = CASES[case]
    sound, weigher = _tones(steps), Weigher()
    energies = [weigher.add(sound[at : at + 480_000]) for at in range(0, len(sound), 480_000)]
    assert integrated(np.concatenate(energies)) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("case", ["3341-1", "3341-2"])
def test_momentary_and_short_term_agree_on_a_steady_tone(case: str) -> None:
    steps, expected = CASES[case]
    heard = _measured(_tones(steps))
    assert heard.most_momentary == pytest.approx(expected, abs=0.1)
    assert heard.most_short_term == pytest.approx(expected, abs=0.1)


def test_short_term_loudness_is_constant_in_case_9() -> None:
    sound = _tones(((1.34, -20), (1.66, -30)) * 5)
    meter, seen = R128Meter(), []
    for start in range(0, len(sound), 4800):
        meter.add(sound[start : start + 4800])
        if start + 4800 >= 3 * RATE:
            seen.append(meter.now()[1])
    assert seen == pytest.approx([-23.0] * len(seen), abs=0.1)


def test_momentary_loudness_is_constant_in_case_12() -> None:
    sound = _tones(((0.18, -20), (0.22, -30)) * 25)
    meter, seen = R128Meter(), []
    for start in range(0, len(sound), 4800):
        meter.add(sound[start : start + 4800])
        if start + 4800 >= RATE:
            seen.append(meter.now()[0])
    assert len(seen) == 91
    assert seen == pytest.approx([-23.0] * len(seen), abs=0.1)


@pytest.mark.parametrize(
    ("case", "divisor", "degrees", "amplitude", "expected"),
    [
        ("15", 4, 0.0, 0.5, -6.0),
        ("16", 4, 45.0, 0.5, -6.0),
        ("17", 6, 60.0, 0.5, -6.0),
        ("18", 8, 67.5, 0.5, -6.0),
        ("19", 4, 45.0, 1.41, 3.0),
    ],
)
def test_true_peak_as_in_tech_3341(
    case: str, divisor: int, degrees: float, amplitude: float, expected: float
) -> None:
    at = np.arange(2 * RATE)
    wave = amplitude * np.sin(2 * np.pi * at / divisor + math.radians(degrees))
    # The tone begins and ends softly: a cut tone has higher peaks of its own.
    wave[:4800] *= np.linspace(0, 1, 4800)
    wave[-4800:] *= np.linspace(1, 0, 4800)
    peak = _measured(np.stack([wave, wave], axis=1).astype(np.float32)).true_peak_db
    assert expected - 0.4 <= peak <= expected + 0.2


@pytest.mark.parametrize(
    ("levels", "expected"),
    [
        ((-20, -30), 10.0),
        ((-20, -15), 5.0),
        ((-40, -20), 20.0),
        ((-50, -35, -20, -35, -50), 15.0),
    ],
)
def test_loudness_range_as_in_tech_3342(levels: tuple[float, ...], expected: float) -> None:
    heard = _measured(_tones(tuple((20.0, level) for level in levels)))
    assert heard.range_lu == pytest.approx(expected, abs=1.0)


def test_one_full_tone_on_one_side_reads_what_bs_1770_says() -> None:
    # ITU-R BS.1770-4: 997 Hz at 0 dBFS in one channel reads -3.01 LKFS (from memory).
    sound = _tones(((10, 0.0),), hertz=997.0)
    sound[:, 1] = 0
    assert _measured(sound).integrated == pytest.approx(-3.01, abs=0.05)
    energies = Weigher().add(sound)
    assert loudness(float(energies[5:].mean())) == pytest.approx(-3.01, abs=0.05)


def test_three_meters_agree_on_noise_that_comes_and_goes() -> None:
    lot = np.random.default_rng(3)
    noise = lot.standard_normal((30 * RATE, 2)) * 0.08
    noise *= (0.55 + 0.45 * np.sin(2 * np.pi * np.arange(len(noise)) / (7 * RATE)))[:, None]
    sound = noise.astype(np.float32)
    other = float(pyloudnorm.Meter(RATE).integrated_loudness(sound))
    assert _measured(sound).integrated == pytest.approx(other, abs=0.1)
    assert integrated(Weigher().add(sound)) == pytest.approx(other, abs=0.1)


def test_blocks_of_any_length_measure_alike() -> None:
    sound = _tones(((5, -20), (5, -26)))
    assert _measured(sound, block=997) == _measured(sound, block=480_000)


def test_silence_measures_as_silence() -> None:
    heard = _measured(np.zeros((RATE, 2), dtype=np.float32))
    assert heard.integrated <= -70
    assert heard.true_peak_db < -100
