"""Loudness from energies of 100 ms, so that levels can be set before anything is mixed.

Weighting, gating and the constants are those of ITU-R BS.1770-4; the filter coefficients are the
ones it tabulates for 48 kHz.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.fft import fft, fftfreq, ifft, next_fast_len
from scipy.signal import freqz_sos

from rondel.music.instruments.tone import RATE, Stereo

HOP = RATE // 10  # 100 ms
SILENCE = -120.0  # LUFS; below what any programme holds

K_WEIGHTING = np.array(
    [
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1, -1.69065929318241,
         0.73248077421585],
        [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621],
    ]
)  # fmt: skip

Energies = NDArray[np.float64]  # one a 100 ms: weighted power, both channels together


@lru_cache(maxsize=4)
def _response(size: int) -> NDArray[np.complex64]:
    _, answer = freqz_sos(K_WEIGHTING, worN=np.abs(fftfreq(size)) * 2 * np.pi)
    answer = np.where(fftfreq(size) < 0, answer.conj(), answer)
    return np.asarray(answer, dtype=np.complex64)


class Weigher:
    """Weighs sound that comes in blocks; every block but the last is a multiple of 100 ms."""

    def __init__(self) -> None:
        self._before = np.zeros((HOP, 2), dtype=np.float32)  # longer than the filter remembers

    def add(self, block: Stereo) -> Energies:
        """Return the energies of `block`; a last part of under 100 ms counts with silence."""
        spare = -len(block) % HOP
        padded = np.pad(block, ((0, spare), (0, 0))) if spare else block
        joined = np.concatenate([self._before, padded])
        # Left and right travel as one complex signal: the filter is real and leaves them apart.
        pair = np.ascontiguousarray(joined, dtype=np.float32).view(np.complex64)[:, 0]
        size = next_fast_len(len(pair))
        weighted = ifft(fft(pair, size) * _response(size))[HOP : len(pair)]
        self._before = joined[-HOP:]
        power = weighted.real**2 + weighted.imag**2
        return np.asarray(power.reshape(-1, HOP).mean(axis=1, dtype=np.float64))


def loudness(power: float) -> float:
    """Return LUFS of a weighted power."""
    return SILENCE if power <= 1e-12 else float(-0.691 + 10 * np.log10(power))


def _windows(energies: Energies, hops: int) -> Energies:
    """Return the mean power of every window of `hops`; of all, where there are fewer."""
    if len(energies) < hops:
        return np.array([energies.mean()]) if len(energies) else np.zeros(1)
    sums = np.concatenate([[0.0], np.cumsum(energies)])
    return np.asarray((sums[hops:] - sums[:-hops]) / hops)


def integrated(energies: Energies) -> float:
    """Return integrated loudness, LUFS: windows of 400 ms, gated at -70 LUFS and 10 LU below."""
    power = _windows(energies, 4)
    power = power[power > 10 ** ((-70 + 0.691) / 10)]
    if not len(power):
        return SILENCE
    gate = power.mean() / 10
    return loudness(float(power[power > gate].mean()))


def loudest_short_term(energies: Energies) -> float:
    """Return the loudness, LUFS, of the loudest three seconds (of all, where shorter)."""
    return loudness(float(_windows(energies, 30).max()))
