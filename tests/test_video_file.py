"""The finished file: what any player finds in it, and whether picture and sound agree."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import pytest

from rondel.adapters.raster import ResvgRasteriser
from rondel.adapters.video import LibavVideoMaker
from rondel.app.make_video import make_video
from rondel.app.ports.video import TimedText
from rondel.app.progress import Silent
from rondel.model.routine import Routine
from rondel.model.words import Language
from video_samples import (
    atoms,
    click_track,
    find,
    heard_clicks,
    landing_seconds,
    look_at_mark,
    marked_landings,
    small_routine,
)

CAPTIONS = (
    TimedText(start_seconds=2.0, end_seconds=5.5, text="Lay both hands down, and wait."),
    TimedText(start_seconds=30.25, end_seconds=33.0, text="Coming home – the refrain."),
)

#: One frame at 25 frames a second.
FRAME = 0.04


@dataclass(frozen=True, slots=True)
class Finished:
    path: Path
    sound: Path
    routine: Routine


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Finished:
    folder = tmp_path_factory.mktemp("video")
    routine, craft = small_routine()
    sound, out = folder / "session.m4a", folder / "session.mp4"
    click_track(sound, landing_seconds(routine), routine.clock.total_seconds)
    make_video(
        routine,
        craft,
        CAPTIONS,
        sound,
        out,
        folder / "work",
        ResvgRasteriser(),
        LibavVideoMaker(),
        Silent(),
        processes=0,
    )
    return Finished(out, sound, routine)


def test_the_picture_is_720p_h264_at_25_frames_tagged_bt709(finished: Finished) -> None:
    with av.open(str(finished.path)) as container:
        stream = container.streams.video[0]
        codec = stream.codec_context
        assert (codec.name, codec.pix_fmt) == ("h264", "yuv420p")
        assert (codec.width, codec.height) == (1280, 720)
        assert stream.average_rate == 25
        # ISO/IEC 23091-2: 1 is BT.709 for primaries, transfer and matrix; libav's 1 is limited.
        assert codec.color_primaries == codec.color_trc == codec.colorspace == 1
        assert codec.color_range == 1
        assert container.streams.audio[0].codec_context.name == "aac"


def test_players_are_told_the_title(finished: Finished) -> None:
    with av.open(str(finished.path)) as container:
        assert container.metadata["title"] == finished.routine.title


def test_the_file_lasts_as_long_as_the_routine(finished: Finished) -> None:
    # 8 bars of 4 beats at 60 and 10 at 75 beats a minute: 32 s + 32 s = 1600 frames.
    with av.open(str(finished.path)) as container:
        frames = [
            f.pts * f.time_base
            for f in container.decode(video=0)
            if f.pts is not None and f.time_base is not None
        ]
    assert frames == [Fraction(n, 25) for n in range(1600)]
    assert abs(float(finished.routine.clock.total_seconds) - 64.0) < 1e-9


def test_the_index_stands_before_the_pictures(finished: Finished) -> None:
    order = [a.kind for a in atoms(finished.path.read_bytes())]
    assert order[0] == "ftyp"
    assert order.index("moov") < order.index("mdat")


def test_chapters_carry_the_plain_names(finished: Finished) -> None:
    with av.open(str(finished.path)) as container:
        chapters = container.chapters()
    ticks = [c["time_base"] or Fraction(1) for c in chapters]
    spans = [(t * c["start"], t * c["end"]) for c, t in zip(chapters, ticks, strict=True)]
    # Arrival; both kneads are one; refrain; open; the two of the peak; close. Bar 8 is at 32 s,
    # and from there a bar lasts 3.2 s.
    starts = [0, 16, 32, Fraction("38.4"), Fraction("44.8"), Fraction("57.6")]
    assert [start for start, _ in spans] == starts
    assert [end for _, end in spans] == [*starts[1:], 64]
    titles = [c["metadata"]["title"] for c in chapters]
    assert titles[3] == "Yours to fill"
    assert titles[2] == f"Home: {titles[0]}"
    assert titles[1] == titles[4] != titles[0]


def test_captions_come_back_as_they_were_given(finished: Finished) -> None:
    with av.open(str(finished.path)) as container:
        stream = container.streams.subtitles[0]
        assert stream.codec_context.name == "mov_text"
        read = []
        for packet in container.demux(stream):
            data = bytes(packet)
            if len(data) > 2 and packet.pts is not None and packet.duration is not None:
                # 3GPP TS 26.245, 5.17: a text sample is a 16-bit length, then the text.
                length = struct.unpack_from(">H", data)[0]
                tick = packet.time_base or Fraction(1)
                start, end = packet.pts * tick, (packet.pts + packet.duration) * tick
                read.append((float(start), float(end), data[2 : 2 + length].decode("utf-8")))
    assert read == [(c.start_seconds, c.end_seconds, c.text) for c in CAPTIONS]


def languages(path: Path) -> dict[bytes, str]:
    """Return the language of each track by its kind, from its `mdhd`: ISO/IEC 14496-12, 8.4.2, has
    three letters of ISO 639-2/T in 5 bits each, less 0x60, after four times of 32 bits."""
    found = {}
    for track in find(path.read_bytes(), "moov", "trak"):
        kind = find(track.data, "mdia", "hdlr")[0].data[8:12]
        head = find(track.data, "mdia", "mdhd")[0].data
        assert head[0] == 0
        (packed,) = struct.unpack_from(">H", head, 20)
        found[kind] = "".join(chr((packed >> shift & 31) + 0x60) for shift in (10, 5, 0))
    return found


@pytest.mark.parametrize(("language", "letters"), [("en", "eng"), ("de", "deu")])
def test_captions_and_chapters_are_tagged_with_their_language(
    finished: Finished, tmp_path: Path, language: str, letters: str
) -> None:
    """ISO 639-2/T: deu is German."""
    said = Language(language)
    out = tmp_path / "session.mp4"
    chapters = [TimedText(start_seconds=0.0, end_seconds=60.0, text="Daheim")]
    LibavVideoMaker().join([finished.path], None, CAPTIONS, chapters, out, title="T", language=said)
    told = languages(out)
    assert (told[b"sbtl"], told[b"text"]) == (letters, letters)  # captions; chapters
    with av.open(str(out)) as container:
        assert container.streams.subtitles[0].language == letters
        assert {s.language for s in container.streams if s.type == "data"} == {letters}
        assert [c["metadata"]["title"] for c in container.chapters()] == ["Daheim"]
        assert len(list(container.decode(video=0))) == 1600


def test_the_sound_is_copied_packet_for_packet(finished: Finished) -> None:
    packets = []
    for path in (finished.sound, finished.path):
        with av.open(str(path)) as container:
            stream = container.streams.audio[0]
            packets.append([(p.pts, bytes(p)) for p in container.demux(stream) if p.size])
    assert packets[0] == packets[1]


def test_the_edit_lists_start_picture_and_sound_together(finished: Finished) -> None:
    """ISO/IEC 14496-12, 8.6.6: an edit's media time is where in the track the film begins.

    The AAC encoder's lead-in of 1024 samples at 48 kHz is skipped, and the picture begins with its
    first frame, whose composition time is the delay that reordering needs.
    """
    data = finished.path.read_bytes()
    for track in find(data, "moov", "trak"):
        kind = find(track.data, "mdia", "hdlr")[0].data[8:12]
        if kind not in (b"soun", b"vide"):
            continue
        edit = find(track.data, "edts", "elst")[0].data
        version, count = edit[0], struct.unpack_from(">I", edit, 4)[0]
        assert (version, count) == (0, 1)
        _, media_time = struct.unpack_from(">Ii", edit, 8)
        if kind == b"soun":
            assert media_time == 1024
        else:
            offsets = find(track.data, "mdia", "minf", "stbl", "ctts")[0].data
            assert media_time == struct.unpack_from(">II", offsets, 8)[1]


def test_sound_plays_within_5_ms_of_its_beat(finished: Finished) -> None:
    clicks = heard_clicks(finished.path)
    landings = landing_seconds(finished.routine)
    assert len(clicks) == len(landings)
    assert max(abs(a - b) for a, b in zip(clicks, landings, strict=True)) < 0.005


def test_every_landing_is_marked_within_a_frame_of_its_click(finished: Finished) -> None:
    marks = marked_landings(look_at_mark(finished.path))
    clicks = heard_clicks(finished.path)
    assert len(marks) == len(clicks)
    assert max(abs(m - c) for m, c in zip(marks, clicks, strict=True)) < FRAME


def test_the_mark_is_gone_a_third_of_a_second_after_a_landing(finished: Finished) -> None:
    look = look_at_mark(finished.path)
    # The arrival's strokes last four beats and land on their second: at 1 s, 5 s, …
    assert look.luma[25] < 60 < 200 < look.luma[24]
    assert look.luma[25 + 8 : 50].min() > 200
