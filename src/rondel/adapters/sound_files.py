"""Sound on disk: FLAC through libsndfile, AAC in MP4 through libav. Files appear whole."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import av
import av.error
import numpy as np
import soundfile

from rondel.adapters.atomic import whole_file
from rondel.adapters.loudness import RATE, R128Meter
from rondel.adapters.midi_file import write_midi
from rondel.app.ports.sound import Block, SoundSink
from rondel.model.errors import BadInput, OutsideFailure
from rondel.music.score import Score

#: What every FLAC of ours says of itself, so that it can be told from a stem of the teacher's.
MADE_HERE = "made by Rondel"

AAC_BITS_PER_SECOND = 176_000
BLOCK = 10 * RATE


class _FlacSink:
    def __init__(self, file: soundfile.SoundFile) -> None:
        self._file = file

    def write(self, block: Block) -> None:
        self._file.write(np.clip(block, -1.0, 1.0))


class _AacSink:
    """AAC-LC. The file's edit list tells players to drop the encoder's first frames."""

    def __init__(self, path: Path) -> None:
        self._file = av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"})
        self._stream = self._file.add_stream(
            "aac", rate=RATE, layout="stereo", bit_rate=AAC_BITS_PER_SECOND
        )
        self._at = 0

    def write(self, block: Block) -> None:
        planes = np.ascontiguousarray(block.T, dtype=np.float32)
        frame = av.AudioFrame.from_ndarray(planes, format="fltp", layout="stereo")
        frame.sample_rate = RATE
        frame.pts = self._at
        self._at += len(block)
        self._file.mux(self._stream.encode(frame))

    def close(self) -> None:
        self._file.mux(self._stream.encode(None))
        self._file.close()


@contextmanager
def _open_flac(path: Path) -> Iterator[SoundSink]:
    with whole_file(path) as part:
        try:
            with soundfile.SoundFile(
                part, "w", RATE, 2, subtype="PCM_16", format="FLAC", compression_level=0.2
            ) as file:
                file.comment = MADE_HERE
                yield _FlacSink(file)
        except soundfile.LibsndfileError as error:
            says = "the sound could not be written; free some space and try again"
            raise OutsideFailure(says, at=str(path)) from error


@contextmanager
def _open_aac(path: Path) -> Iterator[SoundSink]:
    with whole_file(path) as part:
        try:
            sink = _AacSink(part)
            yield sink
            sink.close()
        except av.error.FFmpegError as error:
            says = "the sound could not be encoded; free some space and try again"
            raise OutsideFailure(says, at=str(path)) from error


def _decoded(path: Path) -> Iterator[Block]:
    resampler = av.AudioResampler(format="fltp", layout="stereo", rate=RATE)
    with av.open(str(path)) as file:
        for frame in file.decode(audio=0):
            for piece in resampler.resample(frame):
                yield np.ascontiguousarray(piece.to_ndarray().T, dtype=np.float32)
        for piece in resampler.resample(None):
            yield np.ascontiguousarray(piece.to_ndarray().T, dtype=np.float32)


class SoundFiles:
    """The sound files, scores and meters of this machine."""

    def open_sink(self, path: Path) -> AbstractContextManager[SoundSink]:
        return _open_aac(path) if path.suffix == ".m4a" else _open_flac(path)

    def blocks_of(self, path: Path) -> Iterator[Block]:
        try:
            if path.suffix == ".flac":
                with soundfile.SoundFile(path) as file:
                    yield from file.blocks(BLOCK, dtype="float32", always_2d=True)
            else:
                yield from _decoded(path)
        except (soundfile.LibsndfileError, av.error.FFmpegError) as error:
            raise BadInput("the sound file cannot be read", at=str(path)) from error

    def write_score(self, score: Score, path: Path) -> None:
        write_midi(score, path)

    def meter(self) -> R128Meter:
        return R128Meter()
