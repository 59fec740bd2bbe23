"""What a teacher puts right stays hers: one track's apart from another's, never in the way of what
she says later, told by the file's name where it cannot be, and never lost to a full disk."""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile

import rondel.adapters.heard_files as heard_files
from ambient_tracks import make_track
from rondel.adapters.heard_files import FilesBesideTrack, corrections_path, heard_path
from rondel.cli.main import main
from rondel.model.corrections import FORGETTABLE, NONE, Corrections
from rondel.model.errors import OutsideFailure
from track_sounds import ticks, write_plain

GOOD, BAD_INPUT, OUTSIDE = 0, 2, 3
RATE = 22_050


@pytest.fixture(scope="module")
def dusk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A track of seven sections, in a studio; one of them begins at 0:50.8."""
    studio = tmp_path_factory.mktemp("studio")
    (studio / "studio.toml").touch()
    path = studio / "dusk.flac"
    soundfile.write(path, make_track(712, 120.0).sound, RATE)
    assert main(["listen", str(path)]) == GOOD
    return path


@pytest.fixture
def track(dusk: Path) -> Path:
    """The same track, with nothing put right."""
    corrections_path(dusk).unlink(missing_ok=True)
    return dusk


def told(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str]:
    code = main(["listen", *map(str, words)])
    captured = capsys.readouterr()
    return code, " ".join((captured.out + captured.err).split())


# ---- a section that was moved -------------------------------------------------------------------

ASIDE = "the section at 0:50.8 was to begin at 0:53: this is put aside"


def test_a_section_that_was_moved_stands_in_the_way_of_nothing(
    track: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(capsys, track, "--move-section", "0:50.8=0:53")[0] == GOOD
    code, says = told(capsys, track, "--beats-in-a-bar", "16")
    assert code == GOOD
    assert ASIDE in says
    assert ASIDE in told(capsys, track)[1]  # also where it is only read from beside the track
    code, says = told(capsys, track, "--forget", "bars")
    assert code == GOOD
    assert ASIDE not in says
    assert "the section at 0:50.8 begins at 0:53" in says
    assert "0:53 soft" in says


def test_a_move_that_cannot_be_is_refused_and_not_put_aside(
    track: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, track, "--move-section", "0:50.8=0:53")
    before = corrections_path(track).read_bytes()
    for words in (["0:50.8=1:40"], ["0:38=0:39", "--beats-in-a-bar", "16"]):
        code, says = told(capsys, track, "--move-section", *words)
        assert code == BAD_INPUT
        assert "the moved section: " in says
        assert corrections_path(track).read_bytes() == before


# ---- the file of corrections --------------------------------------------------------------------

WRONG = [
    ('bars_at = ["25:00"]\n', "the track ends at 2:08.5, and 25:00 is later"),
    ('motif = "0:01-1:50"\n', "more than a third of the track"),
    ("bpm = 61.7\n", "no beats were heard that could be counted at 61.7 a minute"),
    ('taps = ["500", "501", "502", "503"]\n', "after the end of the track"),
    ("bpm = 5\n", "bpm: is 5, but must be from 20 to 300"),
    ("bpm = \n", "the file cannot be understood"),
]


@pytest.mark.parametrize(("text", "says"), WRONG)
def test_a_file_that_is_wrong_is_named_and_can_be_taken_back(
    track: Path, capsys: pytest.CaptureFixture[str], text: str, says: str
) -> None:
    path = corrections_path(track)
    path.write_text(text, encoding="utf-8")
    for words in ([], ["--beat", "0:30-0:40"]):
        code, answer = told(capsys, track, *words)
        assert code == BAD_INPUT
        assert "dusk.flac.corrections.toml: " in answer
        assert says in answer
        assert "--forget-corrections" in answer
        assert path.read_text("utf-8") == text
    assert told(capsys, track, "--forget-corrections")[0] == GOOD
    assert not path.exists()


def test_what_is_asked_now_is_not_laid_on_the_file(
    track: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, track, "--beat", "0:30-0:40")
    code, says = told(capsys, track, "--bar-at", "25:00")
    assert code == BAD_INPUT
    assert "corrections.toml" not in says


def test_tracks_of_one_name_are_put_right_apart(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "studio.toml").touch()
    for name, every in (("evening.flac", 0.8), ("evening.wav", 0.6)):
        write_plain(tmp_path / name, ticks(seconds=24.0, rate=RATE, every=every), RATE)
    told(capsys, tmp_path / "evening.flac", "--beats-in-a-bar", "3")
    code, says = told(capsys, tmp_path / "evening.wav")
    assert code == GOOD
    assert "100 beats a minute" in says
    assert "have put right" not in says
    assert "bars of 3 beats" in told(capsys, tmp_path / "evening.flac")[1]
    assert heard_path(tmp_path / "evening.wav") != heard_path(tmp_path / "evening.flac")


# ---- disks --------------------------------------------------------------------------------------


def test_what_was_heard_is_told_where_it_cannot_be_kept(
    track: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    heard_path(track).unlink()

    def refuses(path: Path, text: str) -> None:
        raise OutsideFailure("the folder cannot be written to (made up)", at=str(path.parent))

    monkeypatch.setattr(heard_files, "write_text", refuses)
    code, says = told(capsys, track)
    assert code == GOOD
    assert "57.09 beats a minute" in says
    assert "What was heard could not be kept for the next time: " in says
    assert "(made up)" in says


def test_a_folder_that_was_asked_for_is_tried_before_anything_is_put_right(
    track: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").touch()
    out = tmp_path / "file" / "kept"
    code, says = told(capsys, track, "--beats-in-a-bar", "4", "--out", out)
    assert code == OUTSIDE
    assert "choose another folder" in says
    assert not corrections_path(track).exists()
    code, _ = told(capsys, track, "--out", tmp_path / "kept")
    assert code == GOOD
    assert [p.name for p in (tmp_path / "kept").iterdir()] == ["dusk.flac.heard.json"]


def test_what_is_put_right_and_cannot_be_written_is_no_success(
    track: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(path: Path, text: str | None) -> None:
        raise OutsideFailure("made up", at=str(path))

    monkeypatch.setattr(heard_files, "write_or_take_away", refuses)
    code, says = told(capsys, track, "--beats-in-a-bar", "4")
    assert code == OUTSIDE
    assert "what you put right belongs into this file" in says


def test_a_spoilt_file_is_read_as_nothing_only_where_all_is_taken_back(track: Path) -> None:
    """`FORGETTABLE` names all that the file can hold: `--forget-corrections` is all of it."""
    fields = {name for names in FORGETTABLE.values() for name in names}
    assert fields == set(Corrections.__dataclass_fields__)
    assert FilesBesideTrack().corrections(track) == NONE


# ---- a motif ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("0:52.5-0:52.6", "shorter than a beat, which lasts 1.1 seconds"),
        ("0:00-0:50", "more than a third of the track"),
    ],
)
def test_what_can_be_no_motif_is_refused(
    track: Path, capsys: pytest.CaptureFixture[str], words: str, says: str
) -> None:
    code, answer = told(capsys, track, "--motif", words)
    assert code == BAD_INPUT
    assert says in answer
    assert not corrections_path(track).exists()
    assert told(capsys, track, "--motif", "0:25.6-0:31.9")[0] == GOOD


def test_a_short_motif_stands_in_the_way_of_no_slower_tempo(
    track: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(capsys, track, "--motif", "0:25.6-0:27")[0] == GOOD
    assert told(capsys, track, "--half-as-fast")[0] == GOOD
    assert told(capsys, track, "--bar-at", "0:30")[0] == GOOD
