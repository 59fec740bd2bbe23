"""A routine is told when its track is no longer what it was planned to."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from desk_client import running_desk
from rondel.adapters.studio_files import read_routine
from rondel.adapters.track_files import TrackFiles
from rondel.cli.main import main
from rondel.model.codec.routine import routine_from_dict, routine_to_dict
from rondel.model.errors import BadInput
from rondel.model.words import Role
from track_routines import BEATS, swaying, write_track

SECONDS = swaying(BEATS, mean=1.0)
NAME = "music/evening.flac"
OTHER, PUT_RIGHT = "is not the file that this routine was planned to", "What you have put right in"


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A studio with a routine planned to a track, and nothing put right in it."""
    studio = tmp_path_factory.mktemp("studio")
    (studio / "studio.toml").write_text("", encoding="utf-8")
    home = studio / "routines" / "dusk"
    write_track(home, beats=SECONDS[:-1], seconds=SECONDS[-1])
    brief = f'title = "A"\nminutes = 3\nintention = "settle"\nlevel = 2\ntrack = "{NAME}"\n'
    (home / "brief.toml").write_text(brief, encoding="utf-8")
    wanted = ["plan", str(home / "brief.toml"), "--out", str(home / "routine.json")]
    assert main([*wanted, "--within", "1"]) == 0
    return home


def told(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    main(list(words))
    captured = capsys.readouterr()
    return " ".join((captured.out + captured.err).split())


def asked_of(home: Path) -> list[list[str]]:
    routine = str(home / "routine.json")
    return [
        ["check", routine],
        ["check", routine, "--json"],
        ["change", routine, "keep", "0:30"],
        ["grow", routine, "--learned", "zip-stitch"],
        ["make", routine, "--only", "page"],
    ]


def test_what_a_routine_was_planned_to_is_written_in_it(planned: Path) -> None:
    routine = read_routine(planned / "routine.json")
    known = routine.music.heard_from
    assert known is not None
    assert known.track == TrackFiles().digest(planned / NAME)
    assert routine.brief is not None
    assert routine.brief.laid is not None
    assert routine.brief.laid.heard_from == known
    assert routine_from_dict(routine_to_dict(routine)) == routine


def test_a_track_that_is_gone_is_told_by_a_check(
    planned: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    track, aside = planned / NAME, planned / "aside.flac"
    track.rename(aside)
    try:
        assert "is not there" in told(capsys, "check", str(planned / "routine.json"))
    finally:
        aside.rename(track)


def test_a_sound_in_the_place_of_a_brief_is_told_from_one(
    planned: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "this is a sound; name it in a brief" in told(capsys, "make", str(planned / NAME))


def test_a_routine_whose_track_is_as_it_was_hears_nothing(
    planned: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for words in asked_of(planned):
        says = told(capsys, *words)
        assert OTHER not in says
        assert PUT_RIGHT not in says


def test_what_was_put_right_since_and_taken_back_is_told(
    planned: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    track = str(planned / NAME)
    assert main(["listen", track, "--bar-at", "0:02"]) == 0
    for words in asked_of(planned):
        says = told(capsys, *words)
        assert says.count(PUT_RIGHT) == 1, words
        assert OTHER not in says
    # A change keeps what the routine was planned to, so the note stays with it.
    changed = str(planned / "changed.json")
    routine = planned / "routine.json"
    worked = next(p.id for p in read_routine(routine).line if p.role is Role.WORK)
    told(capsys, "change", str(routine), "keep", worked, "--out", changed)
    assert PUT_RIGHT in told(capsys, "check", changed)
    main(["listen", track, "--forget-corrections"])
    assert PUT_RIGHT not in told(capsys, "check", changed)


def test_the_desk_tells_it_where_the_routine_can_be_set_to_the_track_again(planned: Path) -> None:
    track = str(planned / NAME)
    with running_desk(planned.parent.parent) as desk:
        assert PUT_RIGHT not in desk.ask("/r/dusk/music").text
        main(["listen", track, "--bar-at", "0:02"])
        assert PUT_RIGHT in desk.ask("/r/dusk/music").text
    main(["listen", track, "--forget-corrections"])


def test_another_track_of_the_same_length_is_told_however_often_it_is_listened_to(
    planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = (planned / NAME).read_bytes()
    try:
        write_track(planned, beats=SECONDS[:-1], seconds=SECONDS[-1], chord=(98.0, 196.0))
        main(["listen", str(planned / NAME)])
        for words in asked_of(planned):
            assert told(capsys, *words).count(OTHER) == 1, words
    finally:
        (planned / NAME).write_bytes(before)


def test_a_slip_in_what_a_routine_was_planned_to_is_named(planned: Path) -> None:
    data = json.loads((planned / "routine.json").read_text("utf-8"))
    data["music"]["heard_from"] = {"track": "0" * 64}
    with pytest.raises(BadInput, match="heard_from: corrections: this key is needed"):
        routine_from_dict(data)
