"""A routine finds its track from wherever it was written, and one that is not there is named."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from cases.reading import routine_from_rows
from heard_tracks import steady
from rondel.adapters.heard_files import FilesBesideTrack
from rondel.adapters.studio_files import read_routine, write_routine
from rondel.adapters.track_files import TrackFiles
from rondel.adapters.track_place import brought_track, find_track, named_from, write_routine_of
from rondel.app.ports.tracks import Kept
from rondel.cli.main import main
from rondel.model.codec.routine import routine_to_dict
from rondel.model.errors import BadInput
from rondel.model.routine import Routine
from rondel.model.track import Span
from track_routines import BEATS, course_of, piece, set_to, swaying, write_track

SECONDS = swaying(BEATS)
NAME = "music/evening.flac"


@pytest.fixture(scope="module")
def routine() -> Routine:
    return set_to(SECONDS, course_of((piece(0, SECONDS[-1], 0),), track_seconds=SECONDS[-1]))


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    """A studio with a track beside the routine `lamplight`; `other` has none."""
    studio = tmp_path / "studio"
    for name in ("lamplight", "other"):
        (studio / "routines" / name).mkdir(parents=True)
    (studio / "studio.toml").write_text("", encoding="utf-8")
    write_track(studio / "routines" / "lamplight", beats=SECONDS[:-1], seconds=SECONDS[-1])
    return studio


@pytest.mark.parametrize(
    ("where", "name"),
    [
        ("routines/lamplight/new.json", NAME),
        ("routines/lamplight/fam/routine-level-1.json", NAME),
        ("routines/other/new.json", f"../lamplight/{NAME}"),
    ],
)
def test_within_a_studio_the_way_from_the_file_is_written(
    studio: Path, routine: Routine, where: str, name: str
) -> None:
    source = studio / "routines" / "lamplight" / "brief.toml"
    write_routine_of(source, studio / where, routine)
    written = read_routine(studio / where)
    assert written.music.path == name
    brought = brought_track(written, (studio / where).parent, at="music")
    assert brought.track is not None
    assert brought.track.path.resolve() == source.parent / NAME
    # A studio may be moved as a whole.
    moved = studio.with_name("elsewhere")
    shutil.move(studio, moved)
    found = find_track(name, (moved / where).parent, at="music")
    assert found.resolve() == moved / "routines" / "lamplight" / NAME


def test_outside_of_the_studio_the_track_is_named_in_full(
    studio: Path, tmp_path: Path, routine: Routine
) -> None:
    source, out = studio / "routines" / "lamplight" / "brief.toml", tmp_path / "far" / "new.json"
    write_routine_of(source, out, routine)
    path = read_routine(out).music.path
    assert path == str(source.parent / NAME)
    assert find_track(path, out.parent, at="music").is_file()


def test_a_track_of_the_same_name_in_the_other_folder_is_not_taken_for_it(
    studio: Path, routine: Routine
) -> None:
    source, other = (studio / "routines" / name for name in ("lamplight", "other"))
    write_track(other, beats=SECONDS[:-1], seconds=5.0)
    assert named_from(routine, source, other).music.path == f"../lamplight/{NAME}"
    assert named_from(routine, source, source) is routine


def test_a_track_that_is_not_there_keeps_its_name(tmp_path: Path, routine: Routine) -> None:
    assert named_from(routine, tmp_path, tmp_path / "other") is routine


def test_a_session_made_elsewhere_is_made_again_from_within(
    studio: Path, tmp_path: Path, routine: Routine, capsys: pytest.CaptureFixture[str]
) -> None:
    source = studio / "routines" / "lamplight" / "evening.json"
    write_routine(source, routine)
    out = tmp_path / "far" / "session"
    assert main(["make", str(source), "--out", str(out), "--only", "page"]) == 0
    assert main(["make", str(out / "routine.json"), "--only", "page"]) == 0
    (source.parent / NAME).unlink()
    capsys.readouterr()
    assert main(["make", str(source), "--only", "page"]) == 2
    assert "evening.json: music: the track" in " ".join(capsys.readouterr().err.split())


def test_plans_families_and_changes_written_elsewhere_find_their_track(
    studio: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    source, other = (studio / "routines" / name for name in ("lamplight", "other"))
    brief = f'title = "A"\nminutes = 3\nintention = "settle"\nlevel = 2\ntrack = "{NAME}"\n'
    (source / "b.toml").write_text(brief, encoding="utf-8")
    monkeypatch.chdir(source)
    assert main(["plan", "b.toml", "--levels", "2", "--out", "fam"]) == 0
    assert main(["plan", "b.toml", "--out", "../other/a.json", "--within", "1"]) == 0
    assert main(["change", "../other/a.json", "keep", "0:30", "--out", "new/c.json"]) == 0
    for path in (source / "fam/routine-level-2.json", other / "a.json", source / "new/c.json"):
        written = read_routine(path)
        brought = brought_track(written, path.parent, at="music")
        assert brought.track is not None
        assert brought.track.path.resolve() == (source / NAME).resolve()
        assert written.brief is not None
        assert written.brief.track == written.music.path


def test_check_finds_a_track_of_the_studio_and_sees_that_it_was_changed(
    studio: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    row = [
        "wide-wings work both 5 2",
        "popcorn work both 5 2 stroke=1",
        "wide-wings close both 10 2",
    ]
    data = routine_to_dict(routine_from_rows(row))
    beats = [float(b) for b in range(20 * 4 + 1)]
    data["music"] = {"kind": "track", "path": NAME, "beat_seconds": beats}
    path = studio / "routines" / "other" / "routine.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    track = studio / NAME
    shutil.copytree(studio / "routines" / "lamplight" / "music", track.parent)
    heard = replace(steady(80), beatless=(Span(start=0, end=80),))
    made_from = {"track": TrackFiles().digest(track)}
    kept = Kept(heard=heard, first_bpm=60.0, first_beats_per_bar=4, made_from=made_from)
    FilesBesideTrack(None, keeps=True).keep(track, kept)
    main(["check", str(path)])
    assert "none is heard" in " ".join(capsys.readouterr().out.split())
    track.write_bytes(track.read_bytes() + b"more")
    main(["check", str(path)])
    told = " ".join(capsys.readouterr().out.split())
    assert f"{NAME} was changed since it was listened to" in told
    assert "none is heard" not in told


def test_no_track_is_refused_with_the_places_that_were_looked_at(studio: Path) -> None:
    with pytest.raises(BadInput, match="is not there in"):
        find_track("music/none.flac", studio / "routines" / "other", at="music")
