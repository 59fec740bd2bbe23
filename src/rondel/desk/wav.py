"""Sound for the browser."""

from __future__ import annotations

import struct

import numpy as np

from rondel.music.instruments.tone import RATE, Stereo


def wav(block: Stereo) -> bytes:
    """Return a block as a WAV file: 16 bits, two channels, 48 kHz.

    Layout: RIFF WAVE, format 1 (PCM), as in Multimedia Programming Interface and Data
    Specifications 1.0, IBM and Microsoft 1991.
    """
    samples = np.round(np.clip(block, -1, 1) * 32767).astype("<i2").tobytes()
    head = struct.pack("<4sI4s", b"RIFF", 36 + len(samples), b"WAVE")
    form = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 2, RATE, RATE * 4, 4, 16)
    return head + form + struct.pack("<4sI", b"data", len(samples)) + samples
