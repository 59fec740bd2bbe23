"""Two ways to open a track: libsndfile for plain sound files, libav for everything else."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import av
import av.error
import numpy as np
import soundfile
from av.audio.frame import AudioFrame
from av.audio.stream import AudioStream
from av.container import InputContainer
from numpy.typing import NDArray

from rondel.adapters.track_channels import Sound, usual_places
from rondel.adapters.track_promise import is_promise
from rondel.model.errors import BadInput
from rondel.model.time import as_minutes

CHUNK_SECONDS = 2.0
#: A jump in the time stamps longer than this is sound that is missing.
GAP_SECONDS = 0.05
#: A file may end this much before what it promised: encoders round up to whole frames.
SPARE_SECONDS = 0.5
#: The containers that libsndfile reads quickest, by their first bytes.
PLAIN_STARTS = (b"RIFF", b"RF64", b"FORM", b"riff", b"caff", b".snd")

CUT_OFF = "the file is cut off: it should last {told}, and its sound ends at {ends}; copy it again"
DAMAGED = "the file is damaged: some of its sound is missing at {at}; export or copy it again"
NOT_SOUND = "this cannot be understood as sound; export it again, as FLAC, WAV, MP3 or M4A"
NO_SOUND = "there is no sound in this file"
CHANGES = "the sound changes its form at {at}; export the track again as one piece"
FAILURES = (soundfile.LibsndfileError, av.error.FFmpegError)


@dataclass(frozen=True, slots=True, kw_only=True)
class Decoded:
    """Sound about to be read: its rate in Hz, its speakers, its length as told, its chunks."""

    rate: int
    places: tuple[str, ...]
    seconds_told: float | None
    chunks: Iterator[Sound]


Way = Callable[[Path], AbstractContextManager[Decoded]]


@contextmanager
def opened(path: Path) -> Iterator[Decoded]:
    """Open `path` in the way that suits it. Raises BadInput where it holds no sound to read."""
    with ExitStack() as held:
        yield _first_that_opens(path, held)


def _first_that_opens(path: Path, held: ExitStack) -> Decoded:
    failure: Exception | None = None
    for way in _ways(path):
        try:
            return held.enter_context(way(path))
        except FAILURES as error:
            failure = error
    raise BadInput(NOT_SOUND, at=str(path)) from failure


def _ways(path: Path) -> tuple[Way, ...]:
    """Return the ways to open `path`, the best first."""
    if path.suffix.lower() == ".mp3":  # libsndfile would print its doubts about a broken one
        return (_with_libav,)
    with path.open("rb") as file:
        is_plain = file.read(4) in PLAIN_STARTS
    return (_with_libsndfile, _with_libav) if is_plain else (_with_libav, _with_libsndfile)


@contextmanager
def _with_libsndfile(path: Path) -> Iterator[Decoded]:
    try:
        file = soundfile.SoundFile(path)
    except TypeError as error:  # a name ending in .raw: no header to tell what it is
        raise BadInput(NOT_SOUND, at=str(path)) from error
    with file:
        yield Decoded(
            rate=file.samplerate,
            places=usual_places(file.channels),
            seconds_told=file.frames / file.samplerate,
            chunks=_plain_chunks(file, path),
        )


def _plain_chunks(file: soundfile.SoundFile, path: Path) -> Iterator[Sound]:
    done = 0
    size = max(1, int(CHUNK_SECONDS * file.samplerate))
    while True:
        try:
            chunk: Sound = file.read(size, dtype="float32", always_2d=True)
        except soundfile.LibsndfileError as error:
            at = as_minutes(done / file.samplerate)
            raise BadInput(DAMAGED.format(at=at), at=str(path)) from error
        if not len(chunk):
            return
        done += len(chunk)
        yield chunk


@contextmanager
def _with_libav(path: Path) -> Iterator[Decoded]:
    # Only files: a playlist must not lead to the network.
    options = {"protocol_whitelist": "file"}
    with av.open(f"file:{path.resolve()}", options=options, metadata_errors="ignore") as container:
        stream = container.streams.best("audio")
        if not isinstance(stream, AudioStream) or not stream.rate:
            raise BadInput(NO_SOUND, at=str(path))
        told = _told(container, stream)
        promised = told if is_promise(path, container.format.name) else None
        reading = _Reading(path, container, stream, promised)
        yield Decoded(
            rate=stream.rate,
            places=_places(stream),
            seconds_told=told,
            chunks=_joined(reading.frames(), stream.rate),
        )


def _told(container: InputContainer, stream: AudioStream) -> float | None:
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return container.duration / av.time_base if container.duration else None


def _places(stream: AudioStream) -> tuple[str, ...]:
    named = tuple(channel.name for channel in stream.layout.channels)
    known = {place for n in range(1, 9) for place in usual_places(n)} | {"FLC", "FRC"}
    return named if known.issuperset(named) else usual_places(len(named))


class _Reading:
    """Reads a stream frame by frame, and says so where sound is missing."""

    def __init__(
        self, path: Path, container: InputContainer, stream: AudioStream, promised: float | None
    ) -> None:
        self._path = path
        self._container = container
        self._stream = stream
        self._promised = promised
        self._done = 0  # frames so far
        self._origin: float | None = None  # the time stamp of the first
        self._has_failed = False

    def frames(self) -> Iterator[Sound]:
        for frame in self._decoded():
            if self._has_failed and self._done:
                raise self._fail(DAMAGED)
            self._check(frame)
            self._done += frame.samples
            yield _as_floats(frame)
        self._check_end()

    def _decoded(self) -> Iterator[AudioFrame]:
        """Frames in order; a packet that cannot be decoded is noted, and judged by what follows.

        Rubbish before the first sound and after the last is common and harms nobody.
        """
        packets = self._container.demux(self._stream)
        while True:
            try:
                packet = next(packets)
            except StopIteration:
                return
            except av.error.FFmpegError:
                self._has_failed = True
                return
            try:
                yield from (f for f in packet.decode() if isinstance(f, AudioFrame))
            except av.error.EOFError:
                return
            except av.error.FFmpegError:
                self._has_failed = True

    def _check(self, frame: AudioFrame) -> None:
        is_same = frame.sample_rate == self._stream.rate and len(frame.layout.channels) == len(
            self._stream.layout.channels
        )
        if not is_same:
            raise self._fail(CHANGES)
        if frame.pts is None or frame.time_base is None:
            return
        stamp = float(frame.pts * frame.time_base)
        if self._origin is None:
            self._origin, self._has_failed = stamp, False
        if stamp - self._origin - self._seconds > GAP_SECONDS:
            raise self._fail(DAMAGED)

    def _check_end(self) -> None:
        if self._promised is not None and self._seconds < self._promised - SPARE_SECONDS:
            told = as_minutes(self._promised)
            ends = as_minutes(self._seconds)
            raise BadInput(CUT_OFF.format(told=told, ends=ends), at=str(self._path))

    @property
    def _seconds(self) -> float:
        return self._done / self._stream.rate

    def _fail(self, says: str) -> BadInput:
        return BadInput(says.format(at=as_minutes(self._seconds)), at=str(self._path))


def _as_floats(frame: AudioFrame) -> Sound:
    """Return (frames, channels) in -1..1, whatever kind of sample the codec gives."""
    raw: NDArray[Any] = frame.to_ndarray()
    if not frame.format.is_planar:
        raw = raw.reshape(-1, len(frame.layout.channels)).T
    if raw.dtype == np.uint8:
        raw = (raw.astype(np.float32) - 128) / 128
    elif raw.dtype.kind == "i":
        raw = raw / -float(np.iinfo(raw.dtype).min)
    return np.ascontiguousarray(raw.T, dtype=np.float32)


def _joined(frames: Iterator[Sound], rate: int) -> Iterator[Sound]:
    """Join short frames into chunks of about CHUNK_SECONDS."""
    waiting: list[Sound] = []
    count = 0
    for frame in frames:
        waiting.append(frame)
        count += len(frame)
        if count >= CHUNK_SECONDS * rate:
            yield np.concatenate(waiting)
            waiting, count = [], 0
    if waiting:
        yield np.concatenate(waiting)
