"""Takes come upright, to size and in the colours of the video, whatever their files are like."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from av.video.reformatter import ColorRange, Colorspace
from av.video.stream import VideoStream
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from rondel.adapters.frame_shapes import paper_planes
from rondel.adapters.planes import mirrored, split
from rondel.adapters.take_colour import bent, hlg_light, pq_light
from rondel.adapters.take_pictures import TakePictures, fitted
from rondel.model.errors import OutsideFailure

FRAME = (320, 180)
#: Y', Cb, Cr of 75 % colour bars in 8 bits (ITU-R BT.709-6 and BT.601-7 item 3, worked out there
#: from R'G'B' 191): red, green, blue.
BARS_709 = {"red": (51, 109, 212), "green": (133, 63, 52), "blue": (28, 212, 120)}
BARS_601 = {"red": (65, 100, 212), "green": (112, 72, 58), "blue": (35, 212, 114)}


def write(
    path: Path,
    planes: NDArray[np.uint8] | list[NDArray[np.uint8]],
    size: tuple[int, int],
    *,
    fmt: str = "yuv420p",
    count: int = 10,
    options: dict[str, str] | None = None,
    codec: str = "libx264",
    wide: Fraction | None = None,
) -> Path:
    """Write pictures, 25 a second, as they are; one picture is written `count` times."""
    pictures = planes if isinstance(planes, list) else [planes] * count
    with av.open(str(path), "w") as file:
        stream = file.add_stream(codec, rate=25, options={"crf": "1", **(options or {})})
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = *size, fmt
        if wide is not None:
            stream.codec_context.sample_aspect_ratio = wide
        for number, picture in enumerate(pictures):
            frame = av.VideoFrame.from_ndarray(picture, format=fmt)
            frame.pts, frame.time_base = number, Fraction(1, 25)
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    return path


def plain(colour: tuple[int, int, int], size: tuple[int, int]) -> NDArray[np.uint8]:
    width, height = size
    parts = [
        np.full(width * height // n, v, np.uint8) for v, n in zip(colour, (1, 4, 4), strict=True)
    ]
    return np.concatenate(parts).reshape(height * 3 // 2, width)


def shown(path: Path, frame: tuple[int, int] = FRAME, *, fills: bool = False) -> NDArray[np.uint8]:
    pictures = TakePictures(path, frame, fills=fills, paper=paper_planes(frame))
    before, _ = pictures.near(0.2)
    planes = pictures.planes(before)
    pictures.close()
    return planes


@pytest.mark.parametrize("name", sorted(BARS_709))
@pytest.mark.parametrize("is_high", [True, False])
def test_colours_are_those_of_the_film_by_the_published_bars(
    tmp_path: Path, name: str, is_high: bool
) -> None:
    """High film (BT.709) stays as it is, ordinary film (BT.601) is brought to it."""
    size = (1280, 720) if is_high else (720, 576)
    path = write(
        tmp_path / "bars.mp4", plain((BARS_709 if is_high else BARS_601)[name], size), size
    )
    middle = [float(np.median(part)) for part in split(shown(path, (320, 180), fills=True), FRAME)]
    assert middle == pytest.approx(BARS_709[name], abs=2)


def test_film_of_full_range_is_brought_to_the_range_of_the_video(tmp_path: Path) -> None:
    path = tmp_path / "full.mp4"
    write(path, plain((255, 128, 128), FRAME), FRAME, options={"x264-params": "fullrange=on"})
    with av.open(str(path)) as file:
        assert int(next(file.decode(video=0)).color_range) == int(ColorRange.JPEG)
    assert np.median(split(shown(path), FRAME)[0]) == pytest.approx(235, abs=1)


def test_a_whole_picture_stands_on_paper_and_a_filling_one_covers_it(tmp_path: Path) -> None:
    tall = (180, 320)
    path = write(tmp_path / "tall.mp4", plain((60, 128, 128), tall), tall)
    paper = int(paper_planes(FRAME)[0, 0])
    luma = split(shown(path), FRAME)[0]
    assert luma[90, 5] == paper == luma[90, 315]
    columns = np.flatnonzero(np.abs(luma[90].astype(int) - 60) < 8)
    assert columns.mean() == pytest.approx(159.5, abs=1)
    assert len(columns) == pytest.approx(180 * 180 / 320, abs=2)
    filled = split(shown(path, fills=True), FRAME)[0]
    assert np.abs(filled.astype(int) - 60).max() < 8


def test_points_that_are_wider_than_high_are_shown_so(tmp_path: Path) -> None:
    """A picture of 720 x 576 points of 64 to 45 is 16 to 9, as on a disc (ITU-R BT.601)."""
    size = (720, 576)
    path = write(tmp_path / "wide.mp4", plain((60, 128, 128), size), size, wide=Fraction(64, 45))
    luma = split(shown(path), FRAME)[0]
    assert np.abs(luma.astype(int) - 60).max() < 8


@pytest.mark.parametrize("degrees", [0, 90, 180, 270])
def test_a_take_that_its_file_turns_is_shown_upright(tmp_path: Path, degrees: int) -> None:
    """A phone held upright stores pictures that lie, and how to turn them (ISO 14496-12)."""
    upright = np.full((180, 320) if degrees % 180 == 0 else (320, 180), 60, np.uint8)
    upright[:40, :40] = 200  # a bright corner, top left
    lying = np.rot90(upright, -degrees // 90)
    height, width = lying.shape
    colour = np.full((height // 2, width), 128, np.uint8)
    plain_path = write(
        tmp_path / "lying.mp4", np.vstack([lying, colour]).astype(np.uint8), (width, height)
    )
    path = tmp_path / "turned.mp4"
    _remux_turned(plain_path, path, degrees)
    frame = (upright.shape[1], upright.shape[0])
    with av.open(str(path)) as file:
        told = next(file.decode(video=0)).rotation % 360
    assert told == degrees
    luma = split(shown(path, frame), frame)[0].astype(int)
    assert luma[15, 15] == pytest.approx(200, abs=8)
    assert luma[-15, -15] == pytest.approx(60, abs=8)
    assert luma[15, -15] == pytest.approx(60, abs=8)


def _remux_turned(source: Path, out: Path, degrees: int) -> None:
    """Copy a film, writing how it is to be turned into the matrix of its track header."""
    data = bytearray(source.read_bytes())
    at = data.index(b"tkhd") + 4
    matrix = at + (40 if data[at] == 0 else 52)
    turn = np.deg2rad(degrees)
    cos, sin = round(np.cos(turn)), round(np.sin(turn))
    # Turned against the clock by so many degrees when shown.
    values = [cos, -sin, 0, sin, cos, 0, 0, 0]
    for n, value in enumerate(values):
        data[matrix + 4 * n : matrix + 4 * n + 4] = int(value * 65536).to_bytes(
            4, "big", signed=True
        )
    out.write_bytes(bytes(data))


def test_a_picture_in_two_fields_comes_whole(tmp_path: Path) -> None:
    """A bar that moved between the fields has combed edges; made whole it has none."""
    size = (720, 576)
    colour = np.full((288, 720), 128, np.uint8)

    def woven(number: int) -> NDArray[np.uint8]:
        picture = np.full((576, 720), 60, np.uint8)
        for field in range(2):
            left = 60 + 40 * number + 20 * field
            picture[field::2, left : left + 100] = 200
        return np.vstack([picture, colour])

    path = write(
        tmp_path / "woven.mp4",
        [woven(number) for number in range(10)],
        size,
        options={"x264-params": "interlaced=1:tff=1", "flags": "+ildct+ilme"},
    )
    luma = split(shown(path, (1024, 576)), (1024, 576))[0].astype(int)
    # Every second line differs from its neighbours by 140 levels at the bar's edges before.
    combed = np.abs(2 * luma[1:-1] - luma[:-2] - luma[2:])[8:-8, 360:640]
    raw = woven(5)[:576].astype(int)
    assert np.percentile(np.abs(2 * raw[1:-1] - raw[:-2] - raw[2:])[8:-8, 250:450], 95) > 200
    assert np.percentile(combed, 95) < 100
    assert luma[:, 360:640].max() > 180


def test_film_of_a_high_range_keeps_paper_white_and_grey_where_they_were() -> None:
    """Report ITU-R BT.2408: white of 203 cd/m2 is 75 % of HLG and 58 % of PQ; an 18 % grey card,
    26 cd/m2, is 38 % of both."""
    assert hlg_light(np.array([0.75]))[0] == pytest.approx(203, rel=0.02)
    assert pq_light(np.array([0.58]))[0] == pytest.approx(203, rel=0.02)
    assert hlg_light(np.array([0.38]))[0] == pytest.approx(26, rel=0.06)
    assert pq_light(np.array([0.38]))[0] == pytest.approx(26, rel=0.06)
    assert pq_light(np.array([1.0]))[0] == pytest.approx(10_000)
    light = np.linspace(0, 20, 400, dtype=np.float32)
    out = bent(light)
    assert np.all(np.diff(out) >= 0)
    assert out.max() <= 1.0
    assert out[light <= 0.7] == pytest.approx(light[light <= 0.7])


def test_a_take_of_a_high_range_is_shown_in_ordinary_colours(tmp_path: Path) -> None:
    grey10 = round(64 + 0.38 * 876)  # 10 bits, limited range
    width, height = FRAME
    luma = np.full((height, width), grey10, np.uint16)
    colour = np.full((height // 2, width), 512, np.uint16)
    path = tmp_path / "high.mp4"
    params = "colorprim=bt2020:transfer=arib-std-b67:colormatrix=bt2020nc"
    with av.open(str(path), "w") as file:
        stream = file.add_stream(
            "libx265", rate=25, options={"x265-params": params + ":log-level=0"}
        )
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p10le"
        stream.codec_context.color_trc = 18
        stream.codec_context.color_primaries = 9
        stream.codec_context.colorspace = 9
        for number in range(8):
            frame = av.VideoFrame(width, height, "yuv420p10le")
            for plane, rows in zip(frame.planes, (luma, colour, colour), strict=True):
                wide = plane.line_size // 2
                padded = np.zeros((plane.height, wide), np.uint16)
                part = rows if plane.width == width else rows[:, : width // 2]
                padded[:, : plane.width] = part[: plane.height]
                plane.update(padded.tobytes())
            frame.pts = number
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    y, blue, red = (float(np.median(part)) for part in split(shown(path), FRAME))
    # 26 of 203 cd/m2 are 12.8 % of white: 42.5 % of the signal by the gamma of 2.4 of BT.1886.
    assert (y - 16) / 219 == pytest.approx(0.425, abs=0.03)
    assert blue == pytest.approx(128, abs=2)
    assert red == pytest.approx(128, abs=2)


def test_pictures_are_found_again_in_any_order(tmp_path: Path) -> None:
    """A picture says by its brightness which it is; uneven times, as phones leave them."""
    path = tmp_path / "uneven.mp4"
    dice = np.random.default_rng(5)
    times = np.cumsum(dice.uniform(0.02, 0.07, 150))
    with av.open(str(path), "w") as file:
        stream = file.add_stream("libx264", rate=30, options={"crf": "4", "g": "40"})
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = *FRAME, "yuv420p"
        stream.codec_context.time_base = Fraction(1, 90_000)
        for number, second in enumerate(times):
            frame = av.VideoFrame.from_ndarray(
                plain((20 + number, 128, 128), FRAME), format="yuv420p"
            )
            frame.pts, frame.time_base = round(second * 90_000), Fraction(1, 90_000)
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    times = times - times[0]
    pictures = TakePictures(path, FRAME, fills=False, paper=paper_planes(FRAME))
    for wanted in (0.0, 0.5, 0.51, 3.0, 1.0, 5.5, 0.02, float(times[-1]), float(times[-1]) + 1):
        before, after = pictures.near(wanted)
        number = int(np.searchsorted(times, wanted + 1e-4, side="right")) - 1
        assert before == pytest.approx(times[number], abs=1e-3)
        assert after == pytest.approx(times[min(number + 1, len(times) - 1)], abs=1e-3)
        assert pictures.planes(before)[50, 50] == pytest.approx(20 + number, abs=1)
    pictures.close()


def test_a_take_that_has_gone_or_broken_is_told_in_a_sentence(tmp_path: Path) -> None:
    for name, data in (("gone.mp4", None), ("broken.mp4", b"not film at all" * 50)):
        path = tmp_path / name
        if data is not None:
            path.write_bytes(data)
        pictures = TakePictures(path, FRAME, fills=False, paper=paper_planes(FRAME))
        with pytest.raises(OutsideFailure, match="could not be read again"):
            pictures.near(1.0)


@given(st.integers(16, 4000), st.integers(16, 4000), st.sampled_from([(1280, 720), (720, 1280)]))
def test_a_picture_keeps_its_shape_and_stands_in_the_middle(
    width: int, height: int, frame: tuple[int, int]
) -> None:
    for fills in (False, True):
        left, top, wide, high = fitted((width, height), frame, fills=fills).box
        assert all(v % 2 == 0 for v in (left, top, wide, high))
        assert abs(2 * left + wide - frame[0]) <= 2
        assert abs(2 * top + high - frame[1]) <= 2
        scale = (max if fills else min)(frame[0] / width, frame[1] / height)
        assert wide == pytest.approx(width * scale, abs=2)
        assert high == pytest.approx(height * scale, abs=2)
        if not fills:
            assert wide <= frame[0]
            assert high <= frame[1]


def test_a_mirror_turns_left_and_right_and_nothing_else() -> None:
    dice = np.random.default_rng(1)
    planes = dice.integers(0, 255, (270, 320), dtype=np.uint8)
    once = mirrored(planes, FRAME)
    assert np.array_equal(split(once, FRAME)[0], split(planes, FRAME)[0][:, ::-1])
    assert np.array_equal(mirrored(once, FRAME), planes)


def test_names_of_colour_are_those_of_the_library() -> None:
    """Code points of ISO/IEC 23091-2, as PyAV names them, stand in `take_pictures` as numbers."""
    assert int(Colorspace.ITU709) == 1
    assert int(Colorspace.ITU601) == 5
    assert int(ColorRange.JPEG) == 2
