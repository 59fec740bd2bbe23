"""Takes of containers that are hard to seek in, with more in them than one film, or odd names."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from av.audio.stream import AudioStream
from av.video.stream import VideoStream
from numpy.typing import NDArray

from rondel.adapters.frame_shapes import paper_planes
from rondel.adapters.take_files import TakeFiles, stills_of
from rondel.adapters.take_opening import TakeFilm, film_of, opened
from rondel.adapters.take_pictures import TakePictures
from rondel.adapters.take_reading import probe, read_part
from rondel.app.progress import Silent
from rondel.model.errors import BadInput

SIZE = (160, 90)
Picture = NDArray[np.uint8]


def grey(level: int, size: tuple[int, int] = SIZE) -> Picture:
    """Return a picture that says by its brightness which one it is."""
    width, height = size
    return np.vstack(
        [
            np.full((height, width), level, np.uint8),
            np.full((height // 2, width), 128, np.uint8),
        ]
    )


def grained(level: int) -> Picture:
    """Return such a picture with grain: as large in a file as pictures are."""
    picture, dice = grey(level), np.random.default_rng(level)
    picture[: SIZE[1]] += dice.integers(0, 33, (SIZE[1], SIZE[0]), dtype=np.uint8)
    return picture


def add_film(
    file: av.container.OutputContainer,
    codec: str = "libx264",
    size: tuple[int, int] = SIZE,
    options: dict[str, str] | None = None,
) -> VideoStream:
    stream = file.add_stream(codec, rate=25, options=options or {"crf": "8", "g": "50"})
    assert isinstance(stream, VideoStream)
    stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
    return stream


def lay_film(
    file: av.container.OutputContainer,
    stream: VideoStream,
    pictures: Iterable[Picture],
    first: int = 0,
) -> None:
    for number, picture in enumerate(pictures):
        frame = av.VideoFrame.from_ndarray(picture, format="yuv420p")
        frame.pts, frame.time_base = first + number, Fraction(1, 25)
        file.mux(stream.encode(frame))
    file.mux(stream.encode(None))


def write_with_sound(path: Path, film_seconds: int, sound_seconds: int, first: int = 0) -> Path:
    """Write film that gets brighter, with silence that lasts longer than it."""
    with av.open(str(path), "w") as file:
        film = add_film(file)
        sound = file.add_stream("aac", rate=48_000)
        assert isinstance(sound, AudioStream)
        lay_film(file, film, (grey(20 + n % 200) for n in range(25 * film_seconds)), first)
        for n in range(sound_seconds * 48_000 // 1024):
            part = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
            part.sample_rate, part.pts = 48_000, 1024 * n + first * 1920
            part.time_base = Fraction(1, 48_000)
            file.mux(sound.encode(part))
        file.mux(sound.encode(None))
    return path


@pytest.mark.parametrize(
    ("name", "codec", "options"),
    [
        ("disc.mpg", "mpeg2video", {"b": "6000000", "bf": "2", "g": "12"}),
        ("camcorder.mts", "libx264", {"crf": "8", "g": "250", "bf": "3"}),
    ],
)
def test_film_that_can_be_sought_in_only_roughly_is_shown_to_the_picture(
    name: str, codec: str, options: dict[str, str], tmp_path: Path
) -> None:
    path = tmp_path / name
    with av.open(str(path), "w", format="vob" if name.endswith("mpg") else "mpegts") as file:
        stream = add_film(file, codec, options=options)
        lay_film(file, stream, (grained(4 + n) for n in range(200)))
    pictures = TakePictures(path, SIZE, fills=True, paper=paper_planes(SIZE))
    for wanted in (0.0, 7.7, 3.11, 0.5, 7.5, 1.23, 6.0, 0.04):
        before, after = pictures.near(wanted)
        assert before <= wanted + 0.001
        assert wanted - before < 0.041
        assert after - before == pytest.approx(0.04, abs=0.001)
        told = float(np.median(pictures.planes(before)[: SIZE[1]])) - 20
        assert told == pytest.approx(before * 25, abs=1.5)
    pictures.close()
    part = read_part(path, 5.0, None)
    assert part.times[0] == pytest.approx(5.0, abs=0.001)
    assert np.diff(part.times[:60]).max() < 0.041


@pytest.mark.parametrize("first", [0, 125])
def test_film_whose_sound_goes_on_or_that_begins_late_is_whole(tmp_path: Path, first: int) -> None:
    """Matroska tells how long all of the file lasts, from nought on, and not its film."""
    path = write_with_sound(tmp_path / "talk.mkv", 3, 3 if first else 9, first)
    told = probe(path)
    assert told.seconds is not None
    assert told.seconds > 7
    seen = TakeFiles(jobs=1).watched(path, Silent())
    assert seen.moved.frames[-1] == pytest.approx(2.96, abs=0.01)


def test_film_whose_sound_goes_on_for_minutes_is_whole(tmp_path: Path) -> None:
    path = write_with_sound(tmp_path / "talk.mkv", 3, 100)
    seen = TakeFiles(jobs=1).watched(path, Silent())
    assert seen.moved.frames[-1] == pytest.approx(2.96, abs=0.01)


def test_film_in_wmv_whose_sound_goes_on_is_whole(tmp_path: Path) -> None:
    """There every stream is told to last as long as all of the file."""
    seen = TakeFiles(jobs=1).watched(write_with_sound(tmp_path / "talk.wmv", 3, 9), Silent())
    assert seen.moved.frames[-1] == pytest.approx(2.96, abs=0.03)


@pytest.mark.parametrize(("name", "first"), [("talk.mkv", 0), ("talk.flv", 500)])
def test_film_that_is_cut_off_is_still_told(tmp_path: Path, name: str, first: int) -> None:
    """Also where its times begin at 20 seconds, and what is there of it ends after its length."""
    path = write_with_sound(tmp_path / name, 12, 14, first)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(BadInput, match="cut off"):
        TakeFiles(jobs=1).watched(path, Silent())


def test_of_two_films_in_one_file_the_usual_one_is_taken(tmp_path: Path) -> None:
    path = tmp_path / "two.mkv"
    with av.open(str(path), "w") as file:
        other, usual = add_film(file), add_film(file)
        other.disposition = av.stream.Disposition(0)
        usual.disposition = av.stream.Disposition.default
        lay_film(file, other, (grey(40) for _ in range(30)))
        lay_film(file, usual, (grey(200) for _ in range(30)))
    with opened(path) as container:
        stream = film_of(container)
        assert stream is not None
        assert stream.index == 1


@pytest.mark.parametrize("name", ["rope:hands.mp4", "http: no.mp4", "100%03d.mp4", "-dash.mp4"])
def test_no_name_is_taken_for_an_address(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with av.open(str(tmp_path / "plain.mp4"), "w") as file:
        lay_film(file, add_film(file), (grey(90) for _ in range(30)))
    path = (tmp_path / "plain.mp4").rename(tmp_path / name).relative_to(tmp_path)
    assert probe(path).fault == ""
    film = TakeFilm(path)
    assert len(list(film.frames_from(0.0))) == 30
    film.close()


def test_words_of_another_alphabet_in_a_file_keep_it_from_nothing(tmp_path: Path) -> None:
    path = tmp_path / "old.mp4"
    with av.open(str(path), "w") as file:
        file.metadata["title"] = "Haende XYZ"
        lay_film(file, add_film(file), (grey(90) for _ in range(30)))
    data = path.read_bytes()
    assert b"Haende XYZ" in data
    path.write_bytes(data.replace(b"Haende XYZ", b"H\xe4nde \xfc\xf6\xe4!"))
    assert probe(path).fault == ""
    pictures = TakePictures(path, SIZE, fills=True, paper=paper_planes(SIZE))
    assert pictures.near(0.5)[0] == pytest.approx(0.48, abs=0.03)
    pictures.close()


def test_a_picture_in_two_fields_is_as_high_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "fields.mp4"
    size = (720, 576)
    woven = {"x264-params": "interlaced=1:tff=1", "flags": "+ildct+ilme", "crf": "20"}
    with av.open(str(path), "w") as file:
        lay_film(
            file, add_film(file, size=size, options=woven), (grey(90, size) for _ in range(30))
        )
    told = probe(path)
    assert (told.width, told.height) == size


def test_stills_of_a_take_keep_its_shape(tmp_path: Path) -> None:
    """720 x 576 points of 64 to 45 are a picture of 16 to 9."""
    path = tmp_path / "wide.mp4"
    size = (720, 576)
    with av.open(str(path), "w") as file:
        stream = add_film(file, size=size)
        stream.codec_context.sample_aspect_ratio = Fraction(64, 45)
        lay_film(file, stream, (grey(90, size) for _ in range(30)))
    (still,) = stills_of(path, (0.5,))
    assert still.width / still.height == pytest.approx(16 / 9, abs=0.01)


def test_ordinary_film_of_wide_colours_keeps_them(tmp_path: Path) -> None:
    """Red of 75 % in BT.2020 (Y'CbCr worked out by its table 4) is red of 75 % in BT.709."""
    path = tmp_path / "wide.mp4"
    # R' .75: Y' = .2627 R', Cb = -Y' / 1.8814, Cr = (R' - Y') / 1.4746.
    luma = 0.2627 * 0.75
    blue, red = -luma / 1.8814, (0.75 - luma) / 1.4746
    colours = (round(16 + 219 * luma), round(128 + 224 * blue), round(128 + 224 * red))
    width, height = SIZE[0], 88
    parts = [
        np.full(width * height // n, v, np.uint8) for v, n in zip(colours, (1, 4, 4), strict=True)
    ]
    picture = np.concatenate(parts).reshape(height * 3 // 2, width)
    with av.open(str(path), "w") as file:
        stream = add_film(
            file, size=(width, height), options={"crf": "1", "x264-params": "colormatrix=bt2020nc"}
        )
        lay_film(file, stream, [picture] * 10)
    frame = (width, height)
    pictures = TakePictures(path, frame, fills=True, paper=paper_planes(frame))
    planes = pictures.planes(pictures.near(0.2)[0])
    pictures.close()
    flat, count = planes.reshape(-1), width * height
    told = [np.median(flat[:count]), np.median(flat[count : count * 5 // 4]), np.median(flat[-9:])]
    assert told == pytest.approx([51, 109, 212], abs=3)  # BARS_709 of test_take_pictures
