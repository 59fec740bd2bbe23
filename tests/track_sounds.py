"""Small sounds for tests of tracks, and files of every kind made from them."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np
import soundfile
from av.audio.stream import AudioStream
from numpy.typing import NDArray

Sound = NDArray[np.float32]


def ticks(*, seconds: float, rate: int, channels: int = 2, every: float = 1.0) -> Sound:
    """Return (frames, channels): a tick of 2 ms attack at 0.25 s and each `every` seconds on."""
    sound = np.zeros(int(seconds * rate), dtype=np.float32)
    length = int(0.06 * rate)
    t = np.arange(length) / rate
    tick = 0.6 * np.sin(2 * np.pi * 800 * t) * np.exp(-t / 0.012)
    for start in np.arange(0.25, seconds - 0.1, every):
        at = round(start * rate)
        sound[at : at + length] += tick[: len(sound) - at].astype(np.float32)
    hum = 0.01 * np.sin(2 * np.pi * 110 * np.arange(len(sound)) / rate)
    mono = (sound + hum).astype(np.float32)
    return np.repeat(mono[:, None], channels, axis=1)


def first_tick(sound: Sound, rate: int) -> float:
    """Return the second at which `sound` is first loud."""
    loud = np.abs(sound).max(axis=1) > 0.15
    return float(np.argmax(loud)) / rate


def write_plain(path: Path, sound: Sound, rate: int, subtype: str | None = None) -> Path:
    """Write with libsndfile, in blocks: a long Vorbis block would crash it."""
    channels = sound.shape[1]
    kind = path.suffix[1:].upper() if path.suffix == ".rf64" else None
    with soundfile.SoundFile(path, "w", rate, channels, subtype=subtype, format=kind) as file:
        for start in range(0, len(sound), rate):
            file.write(sound[start : start + rate])
    return path


def write_coded(path: Path, codec: str, sound: Sound, rate: int, layout: str = "stereo") -> Path:
    """Write with libav, in whatever container the suffix names."""
    with av.open(str(path), "w") as file:
        stream = file.add_stream(codec, rate=rate, layout=layout)
        assert isinstance(stream, AudioStream)
        resampler = av.AudioResampler(format=stream.format, layout=layout, rate=rate)
        planes = np.ascontiguousarray(sound.T)
        frame = av.AudioFrame.from_ndarray(planes, format="fltp", layout=layout)
        frame.sample_rate = rate
        for piece in (*resampler.resample(frame), *resampler.resample(None)):
            file.mux(stream.encode(piece))
        file.mux(stream.encode(None))
    return path


def write_pictures_only(path: Path) -> Path:
    """Write a film of a second without any sound."""
    with av.open(str(path), "w") as file:
        stream = file.add_stream("mpeg4", rate=10)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        for shade in range(10):
            picture = np.full((48, 64, 3), shade * 20, np.uint8)
            file.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        file.mux(stream.encode(None))
    return path


def cut_off(source: Path, target: Path, share: float = 0.6) -> Path:
    """Write the first `share` of the bytes of `source`."""
    data = source.read_bytes()
    target.write_bytes(data[: int(len(data) * share)])
    return target


def spoilt(source: Path, target: Path, size: int = 3000) -> Path:
    """Write `source` with other bytes in its middle."""
    data = bytearray(source.read_bytes())
    middle = len(data) // 2
    data[middle : middle + size] = np.random.default_rng(5).bytes(size)
    target.write_bytes(bytes(data))
    return target
