"""`rondel watch` on files: what it prints and keeps, and a sentence for those it cannot use."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile
from av.video.stream import VideoStream
from jsonschema import Draft202012Validator

from rondel.adapters import take_files, take_reading
from rondel.adapters.seen_files import FilesBesideTake, seen_path
from rondel.adapters.take_files import TakeFiles
from rondel.adapters.take_reading import read_part
from rondel.app.progress import Silent
from rondel.cli.main import main
from rondel.model.codec.schema import schema
from rondel.model.codec.take import seen_from_dict, seen_to_dict
from rondel.model.errors import BadInput
from rondel.model.take import MotionKind, Seen
from rondel.model.take_corrections import TakeCorrections
from take_files_made import write_take
from take_motion import Kind, Motion, make_motion
from take_scenes import Grey, TakeScene, Trouble, frames

SECONDS = 12.0


def motion() -> Motion:
    return make_motion(21, SECONDS, (Kind.ALTERNATE,), jitter=0.1)


def pictures(fps: float = 25.0, *, is_variable: bool = False) -> Iterator[tuple[float, Grey]]:
    return frames(TakeScene(motion=motion(), trouble=Trouble(), fps=fps, is_variable=is_variable))


@pytest.fixture(scope="module")
def take(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_take(tmp_path_factory.mktemp("takes") / "rope-hands.mp4", pictures())


def share_met(seen: Seen) -> float:
    """Return the share of true strokes with one seen within two frames of 25 a second."""
    truth, found = np.array(motion().landings), np.array(seen.strokes)
    return float(np.mean(np.abs(found[:, None] - truth[None, :]).min(axis=0) <= 0.08))


def watched(path: Path, capsys: pytest.CaptureFixture[str], *more: str) -> Seen:
    assert main(["watch", str(path), "--json", *more]) == 0
    return seen_from_dict(json.loads(capsys.readouterr().out))


def test_strokes_come_out_of_a_file_and_are_kept_beside_it(
    take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    picture = tmp_path / "seen.svg"
    seen = watched(take, capsys, "--out", str(tmp_path), "--picture", str(picture))
    assert share_met(seen) >= 0.95
    assert (seen.width, seen.height) == (640, 360)
    assert seen.fps == pytest.approx(25, abs=0.1)
    kept = json.loads((tmp_path / "rope-hands.mp4.strokes.json").read_text("utf-8"))
    # The contract of the design's `formats.md`.
    assert {"fps", "strokes", "period", "slips", "pauses", "confidence"} <= set(kept)
    Draft202012Validator(schema("seen")).validate(kept)
    assert seen_from_dict(kept) == seen
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]
    drawn = picture.read_text("utf-8")
    assert drawn.count("<image") == 3
    assert "hand after hand" in drawn


def test_a_take_that_did_not_change_is_not_watched_again(
    take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    first = watched(take, capsys, "--out", str(tmp_path))

    def never(*_: object) -> None:
        raise AssertionError("watched again")

    monkeypatch.setattr(TakeFiles, "watched", never)
    assert watched(take, capsys, "--out", str(tmp_path)) == first


@pytest.mark.parametrize(
    ("name", "fps", "is_variable", "codec"),
    [
        ("phone.mp4", 30.0, True, "libx264"),
        ("quick.mp4", 60.0, False, "libx264"),
        ("old.avi", 25.0, False, "mpeg4"),
    ],
)
def test_film_of_many_kinds_is_watched(
    name: str,
    fps: float,
    is_variable: bool,
    codec: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / name
    if codec == "mpeg4":
        _write_plain(path, pictures())
    else:
        write_take(path, pictures(fps, is_variable=is_variable), fps=round(fps))
    assert share_met(watched(path, capsys)) >= 0.95


def test_a_picture_that_stands_upright_is_watched_alike(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    turned = ((second, np.rot90(picture).copy()) for second, picture in pictures())
    seen = watched(write_take(tmp_path / "upright.mp4", turned), capsys)
    assert (seen.width, seen.height) == (360, 640)
    assert [one.kind for one in seen.stretches] == [MotionKind.ALTERNATE]
    assert share_met(seen) >= 0.95


def _write_plain(path: Path, shown: Iterator[tuple[float, Grey]]) -> None:
    """Write as old cameras did: even frames, no time stamps of their own."""
    with av.open(str(path), "w") as file:
        stream = file.add_stream("mpeg4", rate=25, options={"qscale": "3"})
        assert isinstance(stream, VideoStream)
        stream.width, stream.height, stream.pix_fmt = 640, 360, "yuv420p"
        for _, picture in shown:
            frame = av.VideoFrame.from_ndarray(picture, format="gray").reformat(format="yuv420p")
            file.mux(stream.encode(frame))
        file.mux(stream.encode(None))


def test_a_picture_is_stood_upright_as_its_file_says() -> None:
    class Turned:
        rotation = -90  # to be shown a quarter turn clockwise, as a phone held upright has it

    seen = np.array([[1, 2], [3, 4]], dtype=np.uint8)
    upright = take_reading._upright(seen, Turned())  # type: ignore[arg-type]
    assert upright.tolist() == [[3, 1], [4, 2]]


def test_parts_read_apart_are_the_whole(take: Path) -> None:
    whole = read_part(take, 0.0, None)
    parts = [read_part(take, 0.0, 5.0), read_part(take, 5.0, None)]
    assert np.concatenate([part.times for part in parts]) == pytest.approx(whole.times)
    for lag in range(len(whole.at)):
        # Longer lags are looked at every few pictures, in each part by its own count.
        at = np.concatenate([part.at[lag] for part in parts])
        usual = float(np.median(np.diff(whole.at[lag])))
        assert np.diff(at).max() <= 2 * usual + 0.001
    cells = np.concatenate([part.cells[0] for part in parts])
    assert np.abs(cells - whole.cells[0]).max() < 1.0


def test_watching_that_was_stopped_goes_on_where_it_was(
    take: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(take_files, "PART_SECONDS", 4.0)

    class Stops(Silent):
        def advance(self, done: float) -> None:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        TakeFiles(tmp_path, jobs=1).watched(take, Stops())
    kept = list(tmp_path.rglob("*.npz"))
    assert len(kept) == 1

    counted: list[float] = []

    class Counts(Silent):
        def advance(self, done: float) -> None:
            counted.append(done)
            if len(counted) == 1:
                assert list(tmp_path.rglob("*.npz")) == kept

    found = TakeFiles(tmp_path, jobs=1).watched(take, Counts())
    assert len(counted) == 3
    assert list(tmp_path.rglob("*.npz")) == []
    whole = TakeFiles(jobs=1).watched(take, Silent())
    assert found.moved.frames == pytest.approx(whole.moved.frames)
    assert np.array_equal(found.moved.lags[0].cells, whole.moved.lags[0].cells)
    assert len(whole.moved.outlines.at) >= len(whole.moved.frames) / 4
    assert np.array_equal(found.moved.outlines.at, whole.moved.outlines.at)
    assert np.array_equal(found.moved.outlines.cells, whole.moved.outlines.cells)


# ------------------------------------------------------------------ what cannot be used


def test_a_file_that_cannot_be_used_gets_one_sentence(
    take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    empty, text, sound = tmp_path / "a.mp4", tmp_path / "b.mp4", tmp_path / "c.wav"
    empty.write_bytes(b"")
    text.write_text("This is a shopping list.\n" * 200, "utf-8")
    soundfile.write(sound, np.zeros(48_000), 48_000)
    cut = tmp_path / "d.mp4"
    cut.write_bytes(take.read_bytes()[:-40_000])
    short = write_take(tmp_path / "e.mp4", islice(pictures(), 9))
    hurt = tmp_path / "g.avi"
    _write_plain(hurt, pictures())
    data = bytearray(hurt.read_bytes())
    data[len(data) // 2 :] = bytes(len(data) - len(data) // 2)
    hurt.write_bytes(bytes(data))
    for path, says in (
        (tmp_path / "missing.mp4", "there is no such file"),
        (empty, "the file is empty"),
        (text, "cannot be understood as film"),
        (sound, "no moving pictures"),
        (cut, "cannot be understood as film"),
        (short, "shorter than a second"),
        (hurt, "cut off|damaged"),
        (_eight_hours(tmp_path / "f.mp4"), "8:00:.. *; Rondel|up to three hours"),
    ):
        assert main(["watch", str(path), "--out", str(tmp_path / "out")]) == 2
        printed = capsys.readouterr()
        assert re.search(says, printed.err), (path.name, printed.err)
        assert "Traceback" not in printed.err
        assert len(printed.err.strip().splitlines()) <= 3
    assert not list((tmp_path / "out").glob("*.json"))


def _eight_hours(path: Path) -> Path:
    """Write a film of eight hours, with a picture every five minutes."""
    grey = np.full((90, 160), 90, dtype=np.uint8)
    return write_take(path, ((300.0 * n, grey) for n in range(8 * 12 + 1)))


def test_a_folder_is_told_from_a_file_that_is_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["watch", str(tmp_path)]) == 2
    assert "there is no film in this folder" in capsys.readouterr().err
    assert main(["watch", str(tmp_path / "none.mp4")]) == 2
    assert "no such file" in capsys.readouterr().err


def test_several_takes_are_watched_one_after_the_other(
    take: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home, out, drawn = tmp_path / "takes", tmp_path / "out", tmp_path / "drawn"
    home.mkdir()
    drawn.mkdir()
    (home / "above.mp4").write_bytes(take.read_bytes())
    (home / "broken.mp4").write_bytes(b"no film" * 100)
    (home / "side.mp4").write_bytes(take.read_bytes())
    words = ["watch", str(home), "--out", str(out), "--picture", str(drawn)]
    assert main([*words, "--technique", "Rope hands"]) == 1  # for the one that is left out
    says = " ".join(capsys.readouterr().out.split())
    assert "above.mp4 It lasts 0:12" in says
    assert "broken.mp4 It is left out: this cannot be understood as film" in says
    assert "side.mp4 It lasts 0:12" in says
    assert sorted(p.name for p in drawn.iterdir()) == ["above.mp4.png", "side.mp4.png"]
    for name in ("above.mp4", "side.mp4"):
        kept = (home / f"{name}.corrections.toml").read_text("utf-8")
        assert 'technique = "rope-hands"' in kept


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--json"], "JSON tells of one take at a time"),
        (["--landing-at", "0:00"], "its time belongs to one take; name that take alone"),
        (["--slip", "0:03-0:04"], "its time belongs to one take; name that take alone"),
        (["--picture", "seen.png"], "several takes need a folder for their pictures"),
        (["--picture", "nowhere"], "a picture is .svg or .png, or a folder that is there"),
    ],
)
def test_what_several_takes_cannot_have_is_refused_before_they_are_watched(
    more: list[str], says: str, take: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["watch", str(take), "another.mp4", *more]) == 2
    printed = capsys.readouterr()
    assert says in printed.err
    assert not printed.out


def test_two_takes_whose_names_differ_by_their_kind_alone_are_two(tmp_path: Path) -> None:
    one, two = tmp_path / "hands.mp4", tmp_path / "hands.mov"
    beside = FilesBesideTake()
    beside.correct(one, TakeCorrections(technique="rope-hands"))
    assert beside.corrections(one).technique == "rope-hands"
    assert beside.corrections(two).is_empty
    assert seen_path(one) != seen_path(two)


def test_a_child_that_dies_is_told_in_a_sentence(
    take: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(take_files, "read_part", _dies)
    with pytest.raises(BadInput, match="cannot be understood as film"):
        TakeFiles(jobs=1).watched(take, Silent())


def _dies(*_: object) -> None:
    import os

    os._exit(139)


def test_what_was_seen_reads_back_equal(take: Path, capsys: pytest.CaptureFixture[str]) -> None:
    seen = watched(take, capsys)
    assert seen_from_dict(json.loads(json.dumps(seen_to_dict(seen)))) == seen


@pytest.mark.filterwarnings("error")
def test_black_pictures_are_all_of_one_camera_and_what_comes_after_them_is_not() -> None:
    black, lit = np.zeros((180, 320), np.uint8), next(iter(pictures()))[1]
    shown = [black, black, lit, lit, black]
    part = take_reading._Reader(0.0, None).read((n / 25, one) for n, one in enumerate(shown))
    assert part.cuts == (2 / 25, 4 / 25)


@pytest.mark.parametrize("noise", [1.0, 3.0, 16.0])
def test_the_grain_of_a_picture_without_anything_is_no_other_camera_and_no_hand(
    noise: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # A lens with its cap on, before the take begins; then nothing else at all.
    dice = np.random.default_rng(3)
    grain = [
        np.clip(40 + noise * dice.standard_normal((360, 640)), 0, 255).astype(np.uint8)
        for _ in range(60)
    ]
    lit = [one for _, one in islice(pictures(), 50)]
    capped = write_take(tmp_path / "capped.mp4", ((n / 25, p) for n, p in enumerate(grain + lit)))
    assert read_part(capped, 0.0, None).cuts == pytest.approx([60 / 25])
    bare = write_take(tmp_path / "bare.mp4", ((n / 25, p) for n, p in enumerate(grain)))
    assert main(["watch", str(bare)]) == 1
    printed = capsys.readouterr()
    assert "No strokes were seen in it" in printed.out
    assert "switched" not in printed.out


def test_light_that_goes_on_and_off_all_the_time_is_watched_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # No two lit pictures a quarter of a second apart are of one shot.
    black = np.zeros((360, 640), np.uint8)
    shown = [(t, black if n % 5 == 0 else p) for n, (t, p) in enumerate(islice(pictures(), 60))]
    assert main(["watch", str(write_take(tmp_path / "flashes.mp4", shown))]) in (0, 1)
    assert "It lasts 0:02" in capsys.readouterr().out


def test_a_strip_in_which_nothing_can_be_seen_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    strip = ((t, np.ascontiguousarray(p[:16])) for t, p in islice(pictures(), 30))
    assert main(["watch", str(write_take(tmp_path / "strip.mp4", strip))]) == 2
    assert "a strip, too narrow to see hands in" in capsys.readouterr().err
