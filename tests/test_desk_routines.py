"""Routines as a whole on the first leaf: another from one, another name, put away, brought back."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

from chromium import browser_tab, find_chromium
from desk_browser import AXE, barriers
from desk_client import demo_routine, running_desk
from desk_window import Answer, DeskWindow
from rondel.adapters.brief_beside import BRIEF
from rondel.adapters.routine_shelf import ROUTINE, Shelf
from rondel.adapters.studio_files import read_routine, start_studio
from rondel.checker.check import check
from rondel.desk.jobs import Job, State
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.routine import Routine

HERE = "/r/lamplight/"


@pytest.fixture(scope="module")
def planned() -> Routine:
    return demo_routine()


@pytest.fixture
def studio(tmp_path: Path, planned: Routine) -> Path:
    """A studio with a routine that has all that a routine may have beside it."""
    studio = tmp_path / "studio"
    home = start_studio(studio).parent
    Shelf(studio).add(planned, "", "Planned.", over="lamplight")
    (home / BRIEF).write_text("# For the long evenings.\n" + (home / BRIEF).read_text("utf-8"))
    for name in (
        *("music/evening.flac", "music/evening.flac.corrections.toml", "takes/river.mp4"),
        *("voice/cue-1.wav", "voice/.away/cue-2.wav", "takes/.part-x.mp4", "session/made.json"),
    ):
        (home / name).parent.mkdir(exist_ok=True)
        (home / name).write_bytes(name.encode())
    return studio


@pytest.fixture
def desk(studio: Path) -> DeskWindow:
    return DeskWindow(studio)


def files(folder: Path) -> dict[str, bytes]:
    """Return all files below `folder`, but those that only keep others out."""
    there = (p for p in sorted(folder.rglob("*")) if p.is_file() and p.name != ".lock")
    return {str(p.relative_to(folder)): p.read_bytes() for p in there}


def do(desk: DeskWindow, what: str, page: Answer | None = None, **words: str) -> Answer:
    """Send one of the forms of the routine, as `page` has it."""
    page = page or desk.get("/")
    form = re.search(rf'action="{HERE}{what}">.*?</form>', page.text, re.DOTALL)
    assert form, what
    pairs = re.findall(r'name="(\w+)" value="([^"]*)"', form[0])
    return desk.post(f"{HERE}{what}", {**dict(pairs), **words})


# ---- another ----------------------------------------------------------------------------------
def test_another_begins_with_all_but_history_and_session(
    studio: Path, desk: DeskWindow, planned: Routine
) -> None:
    home, new = studio / "routines" / "lamplight", studio / "routines" / "moth-hour"
    before = files(home)
    page = desk.then(do(desk, "another", title="Moth  Hour"))
    assert page.status == 200
    assert "Begun from “Lamplight”." in page.words
    assert files(home) == before
    there = files(new)
    assert {n for n in there if n.split("/")[0] in ("music", "takes", "voice", "session")} == {
        "music/evening.flac", "music/evening.flac.corrections.toml", "takes/river.mp4",
        "voice/cue-1.wav",
    }  # fmt: skip
    assert there["takes/river.mp4"] == before["takes/river.mp4"]
    assert len(json.loads(there["versions/history.json"])["steps"]) == 1
    text = there[BRIEF].decode("utf-8")
    assert text.startswith("# For the long evenings.\n")
    old = tomllib.loads(before[BRIEF].decode("utf-8"))
    assert tomllib.loads(text) == {**old, "title": "Moth  Hour"}
    routine = read_routine(new / ROUTINE)
    assert routine.title == "Moth  Hour"
    assert routine.passages == planned.passages
    assert routine.brief is not None
    assert routine.brief.title == "Moth  Hour"


def test_another_of_the_same_name_overwrites_nothing(studio: Path, desk: DeskWindow) -> None:
    before = files(studio / "routines" / "lamplight")
    for _ in range(2):
        assert do(desk, "another", title="Lamplight").status == 303
    assert files(studio / "routines" / "lamplight") == before
    assert Shelf(studio).slugs() == ("lamplight", "lamplight-2", "lamplight-3")


def test_where_not_all_can_be_copied_nothing_is_left_half_done(
    studio: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    shelf = Shelf(studio)
    kept = shelf.open("lamplight")
    monkeypatch.setattr("rondel.adapters.routine_shelf.shutil.copytree", full)
    with pytest.raises(OutsideFailure, match="No space left"):
        shelf.another("lamplight", kept.routine, "Begun.", seen=kept.version)
    assert [p.name for p in (studio / "routines").iterdir()] == ["lamplight"]


# ---- another name -----------------------------------------------------------------------------
def test_a_new_name_is_a_step_that_can_be_taken_back(studio: Path, desk: DeskWindow) -> None:
    home = studio / "routines" / "lamplight"
    before = files(home)
    page = desk.then(do(desk, "rename", title="Moth Hour"))
    assert "It is called “Moth Hour” now." in page.words
    text = (home / BRIEF).read_text("utf-8")
    assert text.startswith("# For the long evenings.\n")
    assert tomllib.loads(text)["title"] == "Moth Hour"
    same = {n: b for n, b in files(home).items() if n.split("/")[0] in ("music", "takes", "voice")}
    assert same.items() <= before.items()
    kept = Shelf(studio).open("lamplight")
    assert kept.routine.title == "Moth Hour"
    desk.post(f"{HERE}back", {"version": kept.version})
    assert Shelf(studio).open("lamplight").routine.title == "Lamplight"
    assert tomllib.loads((home / BRIEF).read_text("utf-8"))["title"] == "Lamplight"


@pytest.mark.parametrize("what", ["rename", "another"])
@pytest.mark.parametrize("title", ["", "   ", "\u200b\u202e", "\u0007"])
def test_a_name_of_which_nothing_is_seen_is_asked_for_again(
    studio: Path, desk: DeskWindow, what: str, title: str
) -> None:
    """A new routine takes out what cannot be seen as well (Unicode, general categories C)."""
    before = files(studio)
    answer = do(desk, what, title=title)
    assert answer.status == 422
    assert "Say what it is to be called." in answer.words
    assert 'aria-invalid="true"' in answer.text
    assert files(studio) == before


def test_signs_that_turn_words_round_do_not_get_into_a_name(studio: Path, desk: DeskWindow) -> None:
    do(desk, "rename", title=" Moth\u202e Hour ")
    assert Shelf(studio).open("lamplight").routine.title == "Moth Hour"


def test_the_same_name_is_no_step(studio: Path, desk: DeskWindow) -> None:
    before = files(studio)
    assert do(desk, "rename").status == 303
    assert files(studio) == before


# ---- put away ---------------------------------------------------------------------------------
def test_what_is_put_away_comes_back_whole(studio: Path, desk: DeskWindow) -> None:
    before = files(studio / "routines" / "lamplight")
    page = desk.then(do(desk, "put-away"))
    assert "“Lamplight” is put away, with all that belongs to it." in page.words
    assert f'href="{HERE}"' not in page.text
    assert Shelf(studio).slugs() == ()
    assert files(studio / "put-away" / "lamplight") == before
    assert desk.get(HERE).status == 422
    page = desk.then(desk.post("/put-away/back", {"name": page.value("name", "put-away/back")}))
    assert "“Lamplight” is here again" in page.words
    assert files(studio / "routines" / "lamplight") == before
    assert desk.get(HERE).status == 200


def test_neither_going_nor_coming_overwrites_another(
    studio: Path, desk: DeskWindow, planned: Routine
) -> None:
    for number in range(2):
        assert do(desk, "put-away").status == 303
        Shelf(studio).add(planned, "", f"Planned {number}.")
    assert Shelf(studio).put_away_names() == ("lamplight", "lamplight-2")
    here, away = files(studio / "routines"), files(studio / "put-away" / "lamplight")
    page = desk.then(desk.post("/put-away/back", {"name": "lamplight"}))
    assert "its own folder is called otherwise" in page.words
    assert here.items() <= files(studio / "routines").items()
    assert files(studio / "routines" / "lamplight-2") == away


def test_a_brief_without_a_plan_and_a_broken_routine_can_be_put_away(
    studio: Path, desk: DeskWindow
) -> None:
    home = studio / "routines" / "lamplight"
    broken = "{ no routine"
    for path in (home / "versions").glob("*.json"):
        path.unlink()
    (home / ROUTINE).write_text(broken, encoding="utf-8")
    assert re.findall(r'action="/r/lamplight/([\w-]+)', desk.get("/").text) == ["put-away"]
    assert do(desk, "put-away").status == 303
    assert (studio / "put-away" / "lamplight" / ROUTINE).read_text("utf-8") == broken
    (studio / "put-away" / "lamplight" / ROUTINE).unlink()
    assert "Lamplight" in desk.get("/").words  # its brief still says how it is called
    assert desk.post("/put-away/back", {"name": "lamplight"}).status == 303
    assert do(desk, "put-away").status == 303


def test_nothing_is_put_away_while_it_is_being_worked_on(
    studio: Path, desk: DeskWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Busy(Job):
        def __init__(self) -> None:
            pass

        state = State()

    desk.app.state.desk.jobs._jobs["take lamplight/river.mp4"] = Busy()  # type: ignore[attr-defined]
    answer = do(desk, "put-away")
    assert answer.status == 422
    assert "Something of it is still being worked on." in answer.words
    assert Shelf(studio).slugs() == ("lamplight",)


# ---- two windows, ways out --------------------------------------------------------------------
@pytest.mark.parametrize("what", ["another", "rename", "put-away"])
def test_a_second_window_is_told_and_does_nothing(
    studio: Path, desk: DeskWindow, what: str
) -> None:
    page = desk.get("/")
    do(DeskWindow(studio), "rename", title="Moth Hour")
    before = files(studio)
    answer = do(desk, what, page)
    assert answer.status == 409
    assert "changed in another window since you looked at it, so nothing was done" in answer.words
    assert files(studio) == before
    assert do(desk, what, answer).status == 303  # seen now, and done all the same


@pytest.mark.parametrize("name", ["..", ".", "", "../routines", "a/b", ".lock", "nobody"])
def test_only_what_was_put_away_comes_back(studio: Path, desk: DeskWindow, name: str) -> None:
    do(desk, "put-away")
    before = files(studio)
    answer = desk.post("/put-away/back", {"name": name})
    assert answer.status == 422
    assert "there is no such routine among those put away" in answer.words
    assert files(studio) == before


def test_nothing_goes_out_of_the_studio_by_a_link(
    studio: Path, desk: DeskWindow, tmp_path: Path
) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (studio / "put-away").symlink_to(outside)
    answer = do(desk, "put-away")
    assert answer.status == 422
    assert "put a folder in its place" in answer.words
    assert list(outside.iterdir()) == []
    (studio / "put-away").unlink()
    (studio / "put-away").mkdir()
    (outside / "routine.json").write_text("{}")
    (studio / "put-away" / "sly").symlink_to(outside)
    with pytest.raises(BadInput, match="leads out of the studio"):
        Shelf(studio).bring_back("sly")
    assert desk.get("/").status == 200


def test_a_copy_is_as_sound_as_the_first(studio: Path, desk: DeskWindow) -> None:
    do(desk, "another", title="Moth Hour")
    craft = desk.app.state.desk.craft()  # type: ignore[attr-defined]
    first, copy = (Shelf(studio).open(slug).routine for slug in ("lamplight", "moth-hour"))
    assert check(copy, craft) == check(first, craft)


@pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")
def test_a_link_to_what_is_put_away_unfolds_it(studio: Path) -> None:
    """From elsewhere, from the leaf itself, and by keyboard; nothing else is unfolded."""
    shelf = Shelf(studio)
    shelf.put_away("lamplight", seen=shelf.open("lamplight").version)
    is_open = "document.getElementById('away').open"
    with running_desk(studio) as desk, browser_tab() as tab:
        tab.open(desk.address)
        assert not tab.run(is_open)
        tab.run("(location.hash = '#titled', true)")
        assert not tab.run(is_open)
        tab.run("(location.hash = '#away', true)")
        tab.wait_for(is_open)
        for width in (1280, 320):
            tab.open(f"{desk.base}/rules")
            tab.open(f"{desk.base}/#away", width, 640)
            tab.wait_for(is_open)
            tab.press("Tab")  # what comes next by keyboard is what was led to
            assert tab.run("document.activeElement.closest('#away') !== null")
            assert tab.run("document.activeElement.getBoundingClientRect().top < innerHeight")
            if AXE.is_file():
                assert barriers(tab) == []
        assert tab.troubles == []


@pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")
def test_the_first_leaf_keeps_nobody_out_with_all_of_it_open(studio: Path) -> None:
    Shelf(studio).put_away("lamplight", seen=Shelf(studio).open("lamplight").version)
    Shelf(studio).add(demo_routine(), "", "Planned.")
    with running_desk(studio) as desk, browser_tab() as tab:
        tab.open(desk.address)
        for width, height in ((320, 640), (1280, 860)):
            tab.open(f"{desk.base}/", width, height)
            tab.run("document.querySelectorAll('.filing, .aside').forEach((d) => { d.open = 1; })")
            assert tab.run("document.documentElement.scrollWidth <= window.innerWidth")
            if AXE.is_file():
                assert barriers(tab) == [], width
        tab.run("document.querySelector('form[action$=rename] input[name=title]').value = '\u200b'")
        tab.run("document.querySelector('form[action$=rename] button').click()")
        tab.wait_for("document.querySelector('.filing[open] .refused')")
        if AXE.is_file():
            assert barriers(tab) == []
        assert all("422" in trouble for trouble in tab.troubles)
