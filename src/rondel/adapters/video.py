"""Video files through libav: chunks of H.264, joined with sound, captions and chapters to one MP4.

The codec settings are fixed, because chunks can only be joined where all have the same header.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from heapq import merge
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import av
import cv2
import numpy as np
from av.container import InputContainer, OutputContainer
from av.error import FFmpegError
from av.packet import Packet
from numpy.typing import NDArray

from rondel.adapters.atomic import whole_file
from rondel.adapters.film_frames import FilmFrames
from rondel.adapters.frame_paint import Art, FramePainter
from rondel.adapters.frame_shapes import paper_planes, set_anew, size_of
from rondel.adapters.mp4_language import tag_chapters
from rondel.app.ports.raster import Rasteriser
from rondel.app.ports.video import EncodedChunk, Timed
from rondel.drawing.frames.reel import Reel
from rondel.drawing.frames.shapes import Shape
from rondel.model.errors import InternalError, OutsideFailure
from rondel.model.words import Language

if TYPE_CHECKING:
    from av.container.core import Chapter

#: `veryfast` costs half of `medium` on these drawings, and `animation` gains 1.6 dB at once for a
#: tenth more bytes (250 frames of the demo). Two B-frames keep the delay of every chunk the same; a
#: key frame at least every five seconds makes jumping quick.
X264 = {
    "preset": "veryfast",
    "tune": "animation",
    "crf": "23",
    "bf": "2",
    "keyint": "125",
    "b-pyramid": "none",
}

#: For a video that shows film: nothing is taken for a drawing, and grain is kept a little more.
X264_FILM = {**{k: v for k, v in X264.items() if k != "tune"}, "crf": "22"}

#: Code points of ISO/IEC 23091-2: BT.709 primaries, transfer and matrix; limited range.
BT709, LIMITED = 1, 1

AnyPacket: TypeAlias = "Packet[Any]"

#: How an MP4 names the language of a track: three letters of ISO 639-2/T (ISO/IEC 14496-12, 8.4.2).
ISO_639_2 = {Language.ENGLISH: "eng", Language.GERMAN: "deu"}

#: The caption track's ticks.
MILLISECONDS = Fraction(1, 1000)

#: A caption track in MP4 is described by the header of a subtitle script; only the style counts.
_CAPTION_HEADER = """[Script Info]
ScriptType: v4.00+
PlayResX: 1280
PlayResY: 720

[V4+ Styles]
Format: Name, Fontname, Fontsize, PrimaryColour, SecondaryColour, OutlineColour, BackColour, \
Bold, Italic, Underline, StrikeOut, ScaleX, ScaleY, Spacing, Angle, BorderStyle, Outline, Shadow, \
Alignment, MarginL, MarginR, MarginV, Encoding
Style: Default,Serif,36,&Hffffff,&Hffffff,&H0,&H0,0,0,0,0,100,100,0,0,1,1,0,2,60,60,20,0

[Events]
Format: Layer, Start, End, Style, Name, MarginL, MarginR, MarginV, Effect, Text
"""


@dataclass(frozen=True, kw_only=True)
class LibavVideoMaker:
    """The port `VideoMaker`. It keeps drawings from one chunk to the next."""

    _art: dict[int, tuple[Rasteriser, Art]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __reduce__(self) -> tuple[type[LibavVideoMaker], tuple[()]]:
        """Go to another process without the drawings."""
        return LibavVideoMaker, ()

    def encode(
        self, reel: Reel, rasteriser: Rasteriser, out: Path, *, scale: float = 1.0
    ) -> EncodedChunk:
        """Paint and encode `reel` into the MP4 `out`, on one processor."""
        cv2.setNumThreads(1)  # chunks are made side by side: one thread each
        if id(rasteriser) not in self._art:
            self._art.clear()
            self._art[id(rasteriser)] = rasteriser, Art(rasteriser)
        film = self._film(reel, scale)
        painter = FramePainter(reel, self._art[id(rasteriser)][1], scale=scale, film=film)
        frames: Iterator[NDArray[np.uint8]] = painter.frames()
        if film is None and reel.shape is not Shape.WIDE:
            frames = set_anew(frames, reel.shape, scale)
        settings = X264_FILM if reel.is_of_film else X264
        began = time.perf_counter()
        with ExitStack() as stack:
            stack.enter_context(_foreign(out))
            part = stack.enter_context(whole_file(out))
            if film is not None:
                stack.callback(film.close)
            encoding = encode_planes(
                frames, reel.frames_per_second, part, threads=1, settings=settings
            )
        whole = time.perf_counter() - began
        return EncodedChunk(
            frames=reel.frames, painting_seconds=whole - encoding, encoding_seconds=encoding
        )

    def _film(self, reel: Reel, scale: float) -> FilmFrames | None:
        if reel.footage is None:
            return None
        size = size_of(reel.shape, scale)
        return FilmFrames(reel.footage, size, paper_planes(size))

    def join(
        self,
        chunks: Sequence[Path],
        sound: Path | None,
        captions: Sequence[Timed],
        chapters: Sequence[Timed],
        out: Path,
        *,
        title: str,
        language: Language = Language.ENGLISH,
    ) -> None:
        """Write `out` from packets that are there already; only captions are made here."""
        words = _Words(
            title=title, language=language, captions=tuple(captions), chapters=tuple(chapters)
        )
        with _foreign(out), whole_file(out) as part:
            _join(chunks, sound, words, part)
            if words.chapters:
                tag_chapters(part, ISO_639_2[words.language])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """What a file says: its title, captions in a language, and chapters."""

    title: str
    language: Language
    captions: tuple[Timed, ...]
    chapters: tuple[Timed, ...]


def encode_planes(
    frames: Iterable[NDArray[np.uint8]],
    frames_per_second: int,
    out: Path,
    *,
    threads: int,
    settings: dict[str, str],
) -> float:
    """Encode planes of shape (height × 3/2, width) to `out`; return the seconds that took.

    The seconds do not count the making of the frames. Every array may be used again by its maker
    once the next is asked for: the encoder copies what it is given.
    """
    encoding, tick = 0.0, Fraction(1, frames_per_second)
    with av.open(str(out), "w") as container:
        stream = container.add_stream("libx264", rate=frames_per_second, options=settings)
        codec = stream.codec_context
        codec.pix_fmt = "yuv420p"
        codec.thread_count = threads
        codec.color_primaries = codec.color_trc = codec.colorspace = BT709
        codec.color_range = LIMITED
        for number, planes in enumerate(frames):
            began = time.perf_counter()
            if number == 0:
                stream.height, stream.width = planes.shape[0] * 2 // 3, planes.shape[1]
            frame = av.VideoFrame.from_numpy_buffer(planes, "yuv420p")
            frame.pts, frame.time_base = number, tick
            container.mux(stream.encode(frame))
            encoding += time.perf_counter() - began
        began = time.perf_counter()
        container.mux(stream.encode())
        encoding += time.perf_counter() - began
    return encoding


def _join(chunks: Sequence[Path], sound: Path | None, words: _Words, out: Path) -> None:
    with ExitStack() as stack:
        first = stack.enter_context(av.open(str(chunks[0])))
        container = stack.enter_context(
            av.open(str(out), "w", format="mp4", options={"movflags": "+faststart"})
        )
        container.metadata["title"] = words.title
        rows = [_pictures(container, first, chunks)]
        if sound is not None:
            rows.append(_sound(container, stack.enter_context(av.open(str(sound)))))
        if words.captions:
            rows.append(_captions(container, words))
        container.set_chapters([_chapter(n, c) for n, c in enumerate(words.chapters)])
        for _, packet in merge(*rows, key=lambda row: row[0]):
            container.mux_one(packet)


def _pictures(
    container: OutputContainer, first: InputContainer, chunks: Sequence[Path]
) -> Iterator[tuple[Fraction, AnyPacket]]:
    """Give the picture packets of all chunks, each moved to where the one before it ended."""
    template = first.streams.video[0]
    header, rate = template.codec_context.extradata, template.average_rate
    stream = container.add_stream_from_template(template)
    stream.time_base = tick = Fraction(1, int(rate or 25))

    def packets() -> Iterator[tuple[Fraction, AnyPacket]]:
        start = 0
        for path in chunks:
            with av.open(str(path)) as chunk:
                source = chunk.streams.video[0]
                if source.codec_context.extradata != header:
                    raise InternalError("two chunks of the video were encoded differently")
                scale = Fraction(source.time_base or 0) / tick
                count = 0
                for packet in chunk.demux(source):
                    if packet.pts is None or packet.dts is None:
                        continue
                    packet.pts = start + round(packet.pts * scale)
                    packet.dts = start + round(packet.dts * scale)
                    packet.duration = 1
                    packet.time_base = tick
                    packet.stream = stream
                    count += 1
                    yield packet.dts * tick, packet
            start += count

    return packets()


def _sound(
    container: OutputContainer, source: InputContainer
) -> Iterator[tuple[Fraction, AnyPacket]]:
    """Give the sound packets unchanged, the encoder's silent lead-in before 0 included."""
    track = source.streams.audio[0]
    stream = container.add_stream_from_template(track)
    tick = Fraction(track.time_base or 0)

    def packets() -> Iterator[tuple[Fraction, AnyPacket]]:
        for packet in source.demux(track):
            if packet.dts is None:
                continue
            packet.stream = stream
            yield packet.dts * tick, packet

    return packets()


def _captions(container: OutputContainer, words: _Words) -> Iterator[tuple[Fraction, AnyPacket]]:
    """Give caption packets: a length of two bytes, then the words in UTF-8 (3GPP TS 26.245)."""
    stream = container.add_stream("mov_text")
    stream.codec_context.subtitle_header = _CAPTION_HEADER.encode("utf-8")
    stream.time_base = MILLISECONDS
    stream.metadata["language"] = ISO_639_2[words.language]

    def packets() -> Iterator[tuple[Fraction, AnyPacket]]:
        for caption in words.captions:
            text = caption.text.encode("utf-8")
            packet: AnyPacket = Packet(len(text).to_bytes(2, "big") + text)
            packet.stream = stream
            packet.time_base = MILLISECONDS
            packet.pts = packet.dts = round(caption.start_seconds * 1000)
            packet.duration = round((caption.end_seconds - caption.start_seconds) * 1000)
            yield packet.dts * MILLISECONDS, packet

    return packets()


def _chapter(number: int, chapter: Timed) -> Chapter:
    return {
        "id": number,
        "start": round(chapter.start_seconds * 1000),
        "end": round(chapter.end_seconds * 1000),
        "time_base": MILLISECONDS,
        "metadata": {"title": chapter.text},
    }


@contextmanager
def _foreign(out: Path) -> Iterator[None]:
    """Turn the failures of libav into sentences."""
    try:
        yield
    except FFmpegError as error:
        raise OutsideFailure(
            f"the video could not be written ({error.strerror}); free some space and try again",
            at=str(out),
        ) from error
