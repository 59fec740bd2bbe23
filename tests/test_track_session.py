"""Everything of a session follows the beats of a brought track, its lead-in included."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from heard_tracks import steady
from rondel.adapters.heard_files import FilesBesideTrack
from rondel.adapters.sound_files import SoundFiles
from rondel.adapters.studio_files import write_routine
from rondel.adapters.track_place import find_track
from rondel.app.ports.tracks import Kept
from rondel.cli.main import main
from rondel.documents.chapters import chapter_spans
from rondel.documents.cut_list import cut_list
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.script import Script, frames_of, nearest_frame
from rondel.drawing.page import draw_page
from rondel.model.errors import BadInput
from rondel.model.routine import Routine
from rondel.model.spans import audible_beats
from sound_routines import CRAFT
from track_routines import BEATS, course_of, piece, set_to, swaying, write_track

#: The first beat lies 1.3 s after the session's beginning.
SECONDS = swaying(BEATS, first=1.3)
COURSE = course_of((piece(0, SECONDS[-1], 0),), quiet_bars=4, track_seconds=SECONDS[-1])


@pytest.fixture(scope="module")
def routine() -> Routine:
    return set_to(SECONDS, COURSE)


def test_chapters_and_cuts_begin_with_the_session_and_change_on_its_beats(routine: Routine) -> None:
    spans = chapter_spans(routine, CRAFT)
    assert spans[0].start_seconds == 0.0
    assert spans[1].start_seconds == pytest.approx(SECONDS[8])  # after two bars
    assert spans[-1].end_seconds == pytest.approx(SECONDS[-1])
    cuts = json.loads(
        cut_list(
            routine,
            CRAFT,
            rate=FRAMES_PER_SECOND,
            frames=frames_of(routine),
            frame_at=nearest_frame,
        )
    )
    pictures = cuts["tracks"]["children"][0]["children"]
    at = 0.0
    for clip in pictures:
        assert clip["source_range"]["start_time"]["value"] == at
        at += clip["source_range"]["duration"]["value"]
    assert at == frames_of(routine) == round(SECONDS[-1] * 25)


def test_the_film_shows_the_first_passage_before_the_first_beat(routine: Routine) -> None:
    script = Script(routine, CRAFT)
    assert script.shots[0].first_frame == 0
    assert script.shots[0].passage == 0
    assert script.phase(routine.line[0], 5) == 0.0
    for passage in routine.line:
        landings = routine.landings(passage)
        for beat, frame in zip(landings, script.landing_frames[passage.id], strict=True):
            whole, rest = int(beat), float(beat) - int(beat)
            second = SECONDS[whole] + rest * (SECONDS[whole + 1] - SECONDS[whole])
            assert abs(frame / FRAMES_PER_SECOND - second) <= 0.5 / FRAMES_PER_SECOND + 1e-9


def test_the_page_draws_the_beats_of_the_track_where_the_light_passes_them(
    routine: Routine,
) -> None:
    page = draw_page(routine, CRAFT)
    assert audible_beats(routine)[0] == 16
    dots = {(float(x), float(y)) for x, y in _dots(page.svg)}
    for beat in range(16, BEATS):
        x, _ = page.point_at(SECONDS[beat])
        assert any(abs(x - dot) < 0.02 for dot, _ in dots), beat
    assert len(dots) == BEATS - 16
    assert "home or the peak is near" in page.svg


def _dots(svg: str) -> list[tuple[str, str]]:
    """Return the places of the dots of beats: marks of no length in the drawing's own paths."""
    found = []
    for path in svg.split('d="')[1:]:
        d = path.split('"')[0]
        marks = d.split("M")[1:]
        if len(marks) > 5 and all(mark.endswith("h0") for mark in marks):
            found += [tuple(mark[:-2].split(" ")) for mark in marks]
    return [(x, y) for x, y in found]


def test_a_session_is_made_of_a_routine_with_a_track_from_end_to_end(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], routine: Routine
) -> None:
    track = write_track(tmp_path, beats=SECONDS[:-1], seconds=SECONDS[-1])
    path = tmp_path / "routine.json"
    write_routine(path, routine)
    wanted = ["make", str(path), "--only", "audio"]
    assert main(wanted) == 0
    assert "LUFS (session)" in capsys.readouterr().out
    session = tmp_path / "session"
    made = json.loads((session / "made.json").read_text("utf-8"))
    measured = made["stages"]["audio"]["measured"]
    assert measured["layers"] == ["track"]
    assert min(c["above_music_lu"] for c in measured["cues"]) >= 14.0
    assert len(made["inputs"]["music/evening.flac"]) == 64
    length = sum(len(b) for b in SoundFiles().blocks_of(session / "session.flac"))
    assert length == round(SECONDS[-1] * 48_000)
    # Made again, nothing is stale; from within its own folder, the track is found too.
    assert main(wanted) == 0
    assert "as it was" in capsys.readouterr().out
    assert main(["make", str(session / "routine.json"), "--only", "audio"]) == 0
    assert "as it was" in capsys.readouterr().out
    # Another loudness, or another track under the same name, makes it stale.
    _must_not_be_fresh([*wanted, "--loudness", "nowhere"], capsys, code=2, says="nowhere")
    write_track(tmp_path, beats=SECONDS[:-1], seconds=SECONDS[-1] - 5)
    _must_not_be_fresh(wanted, capsys, code=2, says="music/evening.flac: this track lasts 0:2")
    track.path.unlink()
    _must_not_be_fresh(wanted, capsys, code=2, says='the track "music/evening.flac" is not there')


def _must_not_be_fresh(
    wanted: list[str], capsys: pytest.CaptureFixture[str], *, code: int, says: str
) -> None:
    assert main(wanted) == code
    told = capsys.readouterr()
    assert says in " ".join(told.err.split())
    assert "Traceback" not in told.err


def test_a_family_in_a_folder_below_its_brief_finds_the_track(tmp_path: Path) -> None:
    studio, name = tmp_path / "studio", "music/dusk.flac"
    family = studio / "routines" / "dusk" / "family"
    family.mkdir(parents=True)
    (tmp_path / "music").mkdir()
    (tmp_path / name).write_bytes(b"above the studio")
    (studio / "studio.toml").write_text('name = "Mine"\n', "utf-8")
    with pytest.raises(BadInput, match=r'the track "music/dusk.flac" is not there in '):
        find_track(name, family, at="music")
    for folder in (studio, family.parent, family):  # the nearer one wins
        (folder / "music").mkdir()
        (folder / name).write_bytes(b"any")
        assert find_track(name, family, at="music") == folder / name


def test_without_a_studio_the_one_folder_above_is_looked_at(tmp_path: Path) -> None:
    deep = tmp_path / "dusk" / "family" / "deeper"
    deep.mkdir(parents=True)
    (tmp_path / "dusk" / "a.flac").write_bytes(b"any")
    assert find_track("a.flac", deep.parent, at="track") == tmp_path / "dusk" / "a.flac"
    with pytest.raises(BadInput, match="is not there"):
        find_track("a.flac", deep, at="track")


def test_check_knows_the_track_of_a_family_that_does_not_tell_its_bars(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Both answers are of the same routine; only where it lies differs."""
    track = write_track(tmp_path, beats=SECONDS, seconds=SECONDS[-1])
    heard = steady(SECONDS[-1], sections=((0.0, 0.2), (9.0, 0.8)))
    kept = Kept(heard=heard, first_bpm=60.0, first_beats_per_bar=4, made_from={})
    FilesBesideTrack().keep(track.path, kept)
    says = []
    for path in (tmp_path / "routine.json", tmp_path / "family" / "routine.json"):
        path.parent.mkdir(exist_ok=True)
        write_routine(path, set_to(SECONDS, None))
        main(["check", str(path)])
        says.append(capsys.readouterr().out)
    assert "the rules of a track were left out" not in says[0]
    assert says[0] == says[1]
