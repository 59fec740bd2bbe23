"""Tracks are read from files of any kind; whatever is wrong with one is said in a sentence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from rondel.adapters import track_files
from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.track_channels import fold, fold_weights, usual_places
from rondel.adapters.track_files import TrackFiles
from rondel.adapters.track_promise import missing_bytes
from rondel.model.errors import BadInput, OutsideFailure, RondelError
from track_sounds import (
    Sound,
    cut_off,
    first_tick,
    spoilt,
    ticks,
    write_coded,
    write_pictures_only,
    write_plain,
)

RATES = (48_000, 22_050)
#: Some containers leave a codec's first, silent frames in, and its last one whole: AAC's frames are
#: 1024 samples (ISO/IEC 14496-3), and two of them may come first.
FRAMES_TOO_MANY = 3 * 1024


def whole(path: Path) -> tuple[Sound, Sound]:
    """Return the whole of a track at both rates."""
    parts = list(TrackFiles().blocks(path, RATES))
    first, second = (np.concatenate(row) for row in zip(*parts, strict=True))
    return first, second


PLAIN = [
    ("a.wav", "PCM_16", 44_100, 2),
    ("a.wav", "PCM_24", 96_000, 1),
    ("a.wav", "FLOAT", 192_000, 2),
    ("a.wav", "ULAW", 8_000, 1),
    ("a.aiff", "PCM_16", 22_050, 2),
    ("a.flac", "PCM_24", 88_200, 6),
    ("a.w64", "PCM_16", 11_025, 8),
    ("a.caf", "PCM_16", 48_000, 4),
    ("a.au", "PCM_16", 16_000, 3),
    ("a.ogg", None, 44_100, 2),
    ("a.mp3", None, 32_000, 1),
]


@pytest.mark.parametrize(("name", "subtype", "rate", "channels"), PLAIN)
def test_plain_files_of_every_rate_and_width_are_read(
    tmp_path: Path, name: str, subtype: str | None, rate: int, channels: int
) -> None:
    sound = ticks(seconds=5.0, rate=rate, channels=channels)
    path = write_plain(tmp_path / name, sound, rate, subtype)
    full, small = whole(path)
    for heard, at in zip((full, small), RATES, strict=True):
        assert heard.shape == (pytest.approx(5 * at, abs=2), 2)
        assert heard.dtype == np.float32
        assert first_tick(heard, at) == pytest.approx(0.25, abs=0.002)
    assert TrackFiles().seconds_told(path) == pytest.approx(5.0, abs=0.1)


CODED = [
    ("a.m4a", "aac", 44_100, "stereo"),
    ("a.mka", "libopus", 48_000, "stereo"),
    ("a.opus", "libopus", 48_000, "stereo"),
    ("a.mp3", "libmp3lame", 44_100, "stereo"),
    ("a.aac", "aac", 22_050, "mono"),
    ("a.mp4", "aac", 48_000, "5.1"),
]


@pytest.mark.parametrize(("name", "codec", "rate", "layout"), CODED)
def test_coded_files_are_read(
    tmp_path: Path, name: str, codec: str, rate: int, layout: str
) -> None:
    channels = {"mono": 1, "stereo": 2, "5.1": 6}[layout]
    sound = ticks(seconds=5.0, rate=rate, channels=channels)
    path = write_coded(tmp_path / name, codec, sound, rate, layout)
    full, small = whole(path)
    for heard, at in zip((full, small), RATES, strict=True):
        assert -0.002 <= len(heard) / at - 5 <= FRAMES_TOO_MANY / rate
        assert 0.248 <= first_tick(heard, at) <= 0.25 + FRAMES_TOO_MANY / rate


def test_a_session_of_ours_is_read_in_time_from_either_of_its_files(tmp_path: Path) -> None:
    sound = ticks(seconds=6.0, rate=48_000)
    for name in ("session.flac", "session.m4a"):
        with SoundFiles().open_sink(tmp_path / name) as sink:
            sink.write(sound)
        full, small = whole(tmp_path / name)
        # Within 3 ms of the tick that was written: AAC smears an attack a little, never shifts it.
        assert first_tick(full, 48_000) == pytest.approx(first_tick(sound, 48_000), abs=0.003)
        assert first_tick(small, 22_050) == pytest.approx(first_tick(sound, 48_000), abs=0.003)


def test_a_file_without_a_known_name_is_read_by_what_is_in_it(tmp_path: Path) -> None:
    sound = ticks(seconds=4.5, rate=44_100)
    for name, writer in (("x.flac", write_plain), ("x.wav", write_plain)):
        path = writer(tmp_path / name, sound, 44_100)
        renamed = path.rename(tmp_path / f"{path.stem}-{name[2:]}.track")
        assert len(whole(renamed)[0]) == 4.5 * 48_000


def test_channels_are_folded_as_bs_775_has_it() -> None:
    # ITU-R BS.775-3, table 2: a centre at 0.7071 on both sides, a surround at 0.7071 on its own;
    # no bass effects. Each side is then divided by its sum, 1 + 2 × 0.7071 = 2.4142.
    weights = fold_weights(("FL", "FR", "FC", "LFE", "SL", "SR"))
    expected = [[1, 0], [0, 1], [0.7071, 0.7071], [0, 0], [0.7071, 0], [0, 0.7071]]
    assert weights == pytest.approx(np.array(expected) / 2.4142, abs=1e-4)
    assert fold_weights(("FC",)) == pytest.approx(np.array([[1.0, 1.0]]))
    assert fold_weights(("LFE",)) == pytest.approx(np.array([[1.0, 1.0]]))


@pytest.mark.parametrize("channels", range(1, 13))
def test_a_fold_never_clips_and_keeps_sides_apart(channels: int) -> None:
    weights = fold_weights(usual_places(channels))
    assert weights.sum(axis=0) == pytest.approx([1.0, 1.0])
    loud = np.ones((4, channels), dtype=np.float32)
    assert np.abs(fold(loud, weights)).max() <= 1.0 + 1e-6
    if channels == 2:
        one_side = np.array([[1.0, 0.0]], dtype=np.float32)
        assert fold(one_side, weights).tolist() == [[1.0, 0.0]]


def test_what_is_not_a_number_is_silence(tmp_path: Path) -> None:
    sound = ticks(seconds=4.5, rate=44_100)
    sound[1000:1010] = np.nan
    sound[2000] = np.inf
    path = write_plain(tmp_path / "a.wav", sound, 44_100, "FLOAT")
    assert np.isfinite(whole(path)[0]).all()


@pytest.mark.parametrize("lost", [np.nan, np.inf])
def test_a_long_hole_of_what_is_not_a_number_is_refused_with_its_place(
    tmp_path: Path, lost: float
) -> None:
    sound = ticks(seconds=9, rate=44_100)
    sound[5 * 44_100 : 6 * 44_100, 0] = lost
    path = write_plain(tmp_path / "a.wav", sound, 44_100, "FLOAT")
    with pytest.raises(BadInput, match=r"damaged.* at 0:05"):
        whole(path)


def test_blocks_are_small_and_stay_together(tmp_path: Path) -> None:
    path = write_plain(tmp_path / "a.wav", ticks(seconds=31, rate=44_100), 44_100)
    ends = np.zeros(2)
    for blocks in TrackFiles().blocks(path, RATES):
        lasts = [len(block) / rate for block, rate in zip(blocks, RATES, strict=True)]
        assert max(lasts) <= 2.1
        ends += lasts
        assert abs(ends[0] - ends[1]) <= 0.05
    assert ends == pytest.approx([31, 31], abs=1e-4)


def _refused(path: Path) -> RondelError:
    with pytest.raises(RondelError) as error:
        whole(path)
    assert path.name in str(error.value)
    return error.value


@pytest.mark.parametrize(
    ("name", "make"),
    [
        ("a.wav", lambda p, s: write_plain(p, s, 44_100)),
        ("a.aiff", lambda p, s: write_plain(p, s, 44_100)),
        ("a.w64", lambda p, s: write_plain(p, s, 44_100)),
        ("a.caf", lambda p, s: write_plain(p, s, 44_100)),
        ("a.au", lambda p, s: write_plain(p, s, 44_100)),
        ("a.rf64", lambda p, s: write_plain(p, s, 44_100)),
        ("a.m4a", lambda p, s: write_coded(p, "aac", s, 44_100)),
        ("a.mov", lambda p, s: write_coded(p, "aac", s, 44_100)),
        ("a.flac", lambda p, s: write_plain(p, s, 44_100)),
        ("a.mp3", lambda p, s: write_plain(p, s, 44_100)),
        ("b.mp3", lambda p, s: write_coded(p, "libmp3lame", s, 44_100)),
    ],
)
def test_a_track_that_is_cut_off_is_refused(
    tmp_path: Path, name: str, make: Callable[[Path, Sound], Path]
) -> None:
    path = make(tmp_path / name, ticks(seconds=10, rate=44_100))
    error = _refused(cut_off(path, tmp_path / f"cut-{name}"))
    assert isinstance(error, BadInput)
    assert "the file is cut off" in str(error)
    assert str(error).endswith("copy it again")
    assert len(whole(path)[0])  # by itself it is none


@pytest.mark.parametrize(
    ("name", "size"), [("a.wav", 4), ("a.au", 8), ("a.w64", 16), ("a.rf64", 20), ("a.caf", None)]
)
def test_a_file_whose_head_tells_no_length_is_read_to_its_end(
    tmp_path: Path, name: str, size: int | None
) -> None:
    """What was recorded to a stream bears the largest number for a length, or -1."""
    path = write_plain(tmp_path / name, ticks(seconds=10, rate=44_100), 44_100)
    data = bytearray(path.read_bytes())
    at = data.index(b"data") + 4 if size is None else size
    long = 8 if name in ("a.w64", "a.rf64", "a.caf") else 4
    data[at : at + long] = b"\xff" * long
    path.write_bytes(data[: len(data) * 6 // 10])
    assert missing_bytes(path) == 0


def test_what_comes_after_a_whole_file_is_no_harm(tmp_path: Path) -> None:
    path = write_coded(tmp_path / "a.m4a", "aac", ticks(seconds=5, rate=44_100), 44_100)
    before = len(whole(path)[0])
    path.write_bytes(path.read_bytes() + b"TAGEvening".ljust(128, b" "))
    assert len(whole(path)[0]) == before


def test_a_head_that_is_cut_off_itself_promises_nothing(tmp_path: Path) -> None:
    for name in ("a.wav", "a.aiff", "a.w64", "a.caf", "a.au", "a.rf64"):
        data = write_plain(tmp_path / name, ticks(seconds=5, rate=8_000), 8_000).read_bytes()
        for length in range(12):
            (tmp_path / name).write_bytes(data[:length])
            assert missing_bytes(tmp_path / name) == 0


@pytest.mark.parametrize(
    ("name", "codec"),
    [("a.flac", "flac"), ("a.mp3", "libmp3lame"), ("a.opus", "libopus"), ("a.m4a", "aac")],
)
def test_a_damaged_track_is_refused_with_the_place(tmp_path: Path, name: str, codec: str) -> None:
    rng = np.random.default_rng(3)
    rate = 48_000
    sound = ticks(seconds=10, rate=rate) + 0.02 * rng.standard_normal((10 * rate, 2))
    path = write_coded(tmp_path / name, codec, sound.astype(np.float32), rate)
    error = _refused(spoilt(path, tmp_path / f"spoilt-{name}"))
    assert isinstance(error, BadInput)
    # The spoilt bytes lie in the middle of ten seconds.
    assert any(f"missing at 0:0{second}" in str(error) for second in (4, 5)), str(error)


def _text(path: Path) -> None:
    path.write_text("Ten slow breaths, then the shoulders.\n", "utf-8")


def _playlist(path: Path) -> None:
    path.write_text("#EXTM3U\n#EXTINF:9,\nhttp://127.0.0.1:9/evening.ts\n", "utf-8")


NOT_TRACKS: list[tuple[str, Callable[[Path], object], str]] = [
    ("empty.flac", lambda p: p.touch(), "the file is empty"),
    ("notes.mp3", _text, "cannot be understood as sound"),
    ("notes.wav", _text, "cannot be understood as sound"),
    ("notes.txt", _text, "sound"),
    ("list.m3u8", _playlist, "cannot be understood as sound"),
    ("noise.raw", lambda p: p.write_bytes(np.random.default_rng(1).bytes(90_000)), "sound"),
    ("film.mp4", write_pictures_only, "there is no sound in this file"),
    ("folder.wav", lambda p: p.mkdir(), "this is a folder, and a track is expected"),
    ("nowhere.wav", lambda p: None, "there is no such file"),
    (
        "short.wav",
        lambda p: write_plain(p, ticks(seconds=1.5, rate=44_100), 44_100),
        "only 1.5 seconds of sound",
    ),
    (
        "header.wav",
        lambda p: write_plain(p, np.zeros((0, 2), dtype=np.float32), 44_100),
        "there is no sound in this file",
    ),
]


@pytest.mark.parametrize(("name", "make", "says"), NOT_TRACKS)
def test_what_is_no_track_is_refused(
    tmp_path: Path, name: str, make: Callable[[Path], object], says: str
) -> None:
    path = tmp_path / name
    make(path)
    error = _refused(path)
    assert isinstance(error, BadInput)
    assert says in str(error)


def test_a_track_of_more_than_three_hours_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_plain(tmp_path / "long.flac", ticks(seconds=9, rate=8_000, channels=1), 8_000)
    monkeypatch.setattr(track_files, "LONGEST_SECONDS", 8.0)
    assert "more than three hours" in str(_refused(path))
    monkeypatch.setattr(track_files, "LONGEST_SECONDS", 5.0)
    with pytest.raises(BadInput, match="more than three hours"):
        TrackFiles().seconds_told(path)


def test_a_disk_that_fails_is_an_outside_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_plain(tmp_path / "a.wav", ticks(seconds=5, rate=8_000), 8_000)

    def fail(*_: object, **__: object) -> object:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(Path, "open", fail)
    with pytest.raises(OutsideFailure, match="cannot be read"):
        TrackFiles().digest(path)


def test_another_file_has_another_digest(tmp_path: Path) -> None:
    first, second = tmp_path / "a.wav", tmp_path / "b.wav"
    write_plain(first, ticks(seconds=5, rate=8_000), 8_000)
    write_plain(second, ticks(seconds=5, rate=8_000), 8_000)
    assert TrackFiles().digest(first) == TrackFiles().digest(second)
    write_plain(second, ticks(seconds=5, rate=8_000, every=0.9), 8_000)
    assert TrackFiles().digest(first) != TrackFiles().digest(second)
