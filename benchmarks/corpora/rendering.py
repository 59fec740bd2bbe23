"""Performances as sound: FluidSynth renders them; a room and a codec spoil them on purpose."""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

import av
import numpy as np
import soundfile
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from corpora.tunes import Performance, write_midi

Sound = NDArray[np.float32]

RATE = 44100
FONTS = {
    "usual": Path("/usr/share/sounds/sf3/FluidR3Mono_GM.sf3"),  # Debian fluidr3mono-gm-soundfont
    "other": Path("/usr/share/sounds/sf2/TimGM6mb.sf2"),  # Debian timgm6mb-soundfont
}


def rendered(performance: Performance, font: Path) -> Sound:
    """Return float32 (frames, 2) at RATE as FluidSynth plays it, its own reverb off."""
    with tempfile.TemporaryDirectory() as folder:
        midi, wave = Path(folder, "tune.mid"), Path(folder, "tune.wav")
        write_midi(performance, midi)
        command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(RATE)]
        subprocess.run([*command, "-F", str(wave), str(font), str(midi)], check=True, timeout=240)
        sound, _ = soundfile.read(wave, dtype="float32", always_2d=True)
    return np.asarray(sound, dtype=np.float32)


def in_a_room(sound: Sound, seed: int, decay: float = 1.6, wet: float = 0.5) -> Sound:
    """Return the sound in a room that takes `decay` seconds to fall by 60 dB."""
    rng = np.random.default_rng(seed)
    count = int(decay * RATE)
    room = rng.standard_normal((count, 2)) * np.exp(-6.91 * np.arange(count) / count)[:, None]
    room[: int(0.012 * RATE)] = 0
    room /= np.sqrt((room**2).sum(axis=0))
    far = fftconvolve(sound, room, axes=0)[: len(sound)]
    return np.asarray((sound + wet * far) / (1 + wet), dtype=np.float32)


def through_codec(sound: Sound, kilobits: int = 64) -> Sound:
    """Return the sound as AAC at `kilobits` a second leaves it, put back in time."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "small.m4a")
        with av.open(str(path), "w") as out:
            stream = out.add_stream("aac", rate=RATE, bit_rate=kilobits * 1000)
            stream.layout = "stereo"
            for start in range(0, len(sound), 1024):
                block = np.ascontiguousarray(np.clip(sound[start : start + 1024], -1, 1).T)
                frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
                frame.sample_rate, frame.pts = RATE, start
                out.mux(stream.encode(frame))
            out.mux(stream.encode(None))
        with av.open(str(path)) as coded:
            back = [frame.to_ndarray() for frame in coded.decode(audio=0)]
    return np.ascontiguousarray(np.concatenate(back, axis=1).T, dtype=np.float32)
