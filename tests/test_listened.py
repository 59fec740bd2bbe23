"""What is kept of a track's sound: putting right listens to nothing twice, and answers the same."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

import rondel.adapters.heard_files as heard_files
import rondel.app.hear_track as hear_track_module
from ambient_tracks import make_track
from rondel.adapters.beat_weights import builtin_network
from rondel.adapters.heard_files import (
    corrections_path,
    heard_path,
)
from rondel.adapters.listened_files import SUFFIX, ListenedFiles
from rondel.adapters.track_files import TrackFiles
from rondel.app.ports.tracks import Listened
from rondel.app.progress import Progress
from rondel.cli.main import main
from rondel.listening.features import Features, FeatureStream
from rondel.listening.hearing import first_heard
from track_sounds import write_plain

GOOD = 0
RATE = 22_050
WAY = "a way"


@pytest.fixture(scope="module")
def walk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A made-up ambient track of a minute, with sections and a motif."""
    made = make_track(712, 60)
    return write_plain(tmp_path_factory.mktemp("walk") / "walk.flac", made.sound, made.rate)


@pytest.fixture
def track(walk: Path, tmp_path: Path) -> Path:
    """The track in a studio of its own."""
    (tmp_path / "studio.toml").write_text('name = "Mine"\n', "utf-8")
    path = tmp_path / "music" / "walk.flac"
    path.parent.mkdir()
    path.write_bytes(walk.read_bytes())
    return path


@pytest.fixture
def listens(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the tracks that were listened to, in order."""
    names: list[str] = []
    listen = hear_track_module._listen

    def counted(track: Path, tools: hear_track_module.HearTools, progress: Progress) -> object:
        names.append(track.name)
        return listen(track, tools, progress)

    monkeypatch.setattr(hear_track_module, "_listen", counted)
    return names


def listen(*words: str | Path) -> int:
    return main(["listen", *(str(w) for w in words)])


def kept_file(track: Path) -> Path:
    return track.parent.parent / ".listened" / f"{TrackFiles().digest(track)}{SUFFIX}"


CORRECTIONS = (
    ("--half-as-fast",),
    ("--tempo", "76.1"),
    ("--beats-in-a-bar", "4", "--bar-at", "0:12.3"),
    ("--no-beat", "0:20-0:30"),
    ("--motif", "0:40-0:46"),
    ("--forget-corrections",),
)


def test_putting_right_listens_to_nothing_again_and_answers_the_same(
    track: Path, listens: list[str]
) -> None:
    """Each answer is held, byte by byte, to that of a studio that keeps nothing of the sound."""
    assert listen(track) == GOOD
    assert listens == ["walk.flac"]
    for words in CORRECTIONS:
        assert listen(track, *words) == GOOD
        quick = heard_path(track).read_bytes()
        assert listens == ["walk.flac"]
        said = corrections_path(track)
        text = said.read_bytes() if said.exists() else b""
        kept_file(track).unlink()
        heard_path(track).unlink()
        assert listen(track) == GOOD  # all anew, with what was put right
        assert heard_path(track).read_bytes() == quick
        assert (said.read_bytes() if said.exists() else b"") == text
        listens.pop()


def test_what_is_kept_of_the_sound_can_be_forgotten_and_corrections_stay(
    track: Path, listens: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    listen(track, "--beats-in-a-bar", "4")
    said, heard = corrections_path(track).read_bytes(), heard_path(track).read_bytes()
    assert kept_file(track).is_file()
    assert listen(track, "--forget", "sound") == GOOD
    assert "Nothing is kept of its sound" in capsys.readouterr().out
    assert not kept_file(track).parent.exists()
    assert corrections_path(track).read_bytes() == said
    assert heard_path(track).read_bytes() == heard
    assert len(listens) == 1
    listen(track, "--beats-in-a-bar", "2", "--forget", "sound")  # listens, and keeps nothing
    assert len(listens) == 2
    assert not kept_file(track).exists()


def test_outside_a_studio_no_sound_is_kept_unless_a_folder_is_named(
    walk: Path, tmp_path: Path, listens: list[str]
) -> None:
    path = tmp_path / "walk.flac"
    path.write_bytes(walk.read_bytes())
    listen(path)
    assert [p.name for p in tmp_path.iterdir()] == ["walk.flac"]
    listen(path, "--out", tmp_path / "kept")
    listen(path, "--out", tmp_path / "kept", "--beats-in-a-bar", "4")
    assert len(listens) == 2


# ---- the file -----------------------------------------------------------------------------------


def sound(seed: int, seconds: float = 8.0) -> Listened:
    """What is listened to in a made-up track."""
    made = make_track(seed, seconds)
    stream = FeatureStream(made.rate)
    stream.feed(made.sound)
    features = stream.features()
    first = first_heard(features, builtin_network())
    return Listened(features=features, loudness=-21.25, true_peak=None, first=first)


@pytest.fixture(scope="module")
def listened() -> Listened:
    return sound(3, 60.0)


def same(one: Listened | None, two: Listened) -> bool:
    """True where all is alike to the bit, kinds of numbers among it."""
    if one is None:
        return False
    for field in fields(Features):
        a, b = getattr(one.features, field.name), getattr(two.features, field.name)
        if isinstance(b, np.ndarray):
            if a.dtype != b.dtype or a.shape != b.shape or a.tobytes() != b.tobytes():
                return False
        elif a != b:
            return False
    return replace(one, features=two.features) == two


def test_what_was_kept_comes_back_to_the_bit(tmp_path: Path, listened: Listened) -> None:
    files = ListenedFiles(tmp_path)
    assert files.listened("track", WAY) is None
    files.keep("track", WAY, listened)
    assert same(files.listened("track", WAY), listened)
    assert files.listened("other", WAY) is None
    assert files.listened("track", "a better way") is None
    (tmp_path / f"track{SUFFIX}").rename(tmp_path / f"other{SUFFIX}")
    assert files.listened("other", WAY) is None
    assert [p.name for p in tmp_path.iterdir()] == [f"other{SUFFIX}"]


def test_a_minute_takes_no_more_than_is_said(tmp_path: Path, listened: Listened) -> None:
    """Decision 15: 22 kB a second."""
    ListenedFiles(tmp_path).keep("track", WAY, listened)
    (path,) = tmp_path.iterdir()
    assert path.stat().st_size / listened.features.seconds < 23_000


@pytest.mark.parametrize("damage", ["cut", "longer", "empty", "bit", "not ours"])
def test_a_damaged_file_is_as_good_as_none(tmp_path: Path, listened: Listened, damage: str) -> None:
    files = ListenedFiles(tmp_path)
    files.keep("track", WAY, listened)
    (path,) = tmp_path.iterdir()
    whole = path.read_bytes()
    dice = np.random.default_rng(5)
    places = sorted({*range(64), *map(int, dice.integers(0, len(whole), 60)), len(whole) - 1})
    for place in places:
        spoilt = bytearray(whole)
        spoilt[place] ^= 1 << int(dice.integers(0, 8))
        wrong = {
            "cut": whole[:place],
            "longer": whole + bytes(place + 1),
            "empty": b"",
            "bit": bytes(spoilt),
            "not ours": bytes(dice.integers(0, 256, place + 1, dtype=np.uint8)),
        }[damage]
        path.write_bytes(wrong)
        assert files.listened("track", WAY) is None, place
    path.write_bytes(whole)
    assert same(files.listened("track", WAY), listened)


def test_a_damaged_file_is_listened_to_and_kept_anew(track: Path, listens: list[str]) -> None:
    listen(track)
    whole = kept_file(track).read_bytes()
    kept_file(track).write_bytes(whole[:-100])
    listen(track, "--beats-in-a-bar", "4")
    assert len(listens) == 2
    assert kept_file(track).read_bytes() == whole


def test_the_longest_unused_go_where_there_is_no_room(tmp_path: Path, listened: Listened) -> None:
    ListenedFiles(tmp_path).keep("first", WAY, listened)
    size = (tmp_path / f"first{SUFFIX}").stat().st_size
    files = ListenedFiles(tmp_path, most_bytes=int(2.5 * size))
    files.keep("second", WAY, listened)
    assert files.listened("first", WAY) is not None  # used again: now the second is older
    files.keep("third", WAY, listened)
    assert sorted(p.stem for p in tmp_path.iterdir()) == ["first", "third"]
    tiny = ListenedFiles(tmp_path, most_bytes=1)
    tiny.keep("fourth", WAY, listened)
    assert [p.stem for p in tmp_path.iterdir()] == ["fourth"]


def test_what_cannot_be_kept_is_no_reason_to_fail(tmp_path: Path, listened: Listened) -> None:
    (tmp_path / "file").write_text("no folder")
    files = ListenedFiles(tmp_path / "file" / "in it")
    files.keep("track", WAY, listened)
    assert files.listened("track", WAY) is None
    assert not files.forget("track")


def test_another_library_or_reader_is_another_way_of_listening(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What is kept must be what listening again would give."""
    ways = {heard_files.listening_digest.__wrapped__()}
    monkeypatch.setattr(heard_files, "version", lambda name: "0" if name == "soxr" else "1")
    ways.add(heard_files.listening_digest.__wrapped__())
    monkeypatch.setattr(heard_files, "READERS", heard_files.READERS[:-1])
    ways.add(heard_files.listening_digest.__wrapped__())
    assert len(ways) == 3
