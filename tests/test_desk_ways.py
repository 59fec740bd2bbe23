"""Other ways from one sentence at the desk: quite different routines, and other levels.

What the leaves say is worked out here once more from the files that were kept: bars are counted one
by one, and the checker, which shares only the rule book with the planner, judges every routine.
"""

from __future__ import annotations

import os
import re
import signal
import time
from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from chromium import browser_tab, find_chromium
from desk_browser import AXE, barriers, press, tab_to, text_of
from desk_client import demo_routine, running_desk, studio_with_demo
from desk_window import Answer, DeskWindow
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.routine_shelf import Shelf
from rondel.adapters.studio_files import demo_brief, read_brief, read_routine
from rondel.app.make_levels import make_levels
from rondel.app.make_plan import make_others, with_cues
from rondel.checker.check import check
from rondel.desk.jobs import Job
from rondel.model.brief import Keep
from rondel.model.finding import Severity
from rondel.model.routine import Music, Routine
from rondel.model.words import Language
from rondel.planner.attempts import QUICK
from rondel.planner.levels import _for_level
from rondel.planner.plan import plan

CRAFT = builtin_craft()
OTHERS, LEVELS = "/r/lamplight/others", "/r/lamplight/levels"


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    return studio_with_demo(tmp_path)


@pytest.fixture
def desk(studio: Path) -> DeskWindow:
    return DeskWindow(studio)


def version(desk: DeskWindow) -> str:
    return desk.get("/r/lamplight/").value("version")


def ended(desk: DeskWindow, leaf: str, seconds: float = 120.0) -> Answer:
    """Return the leaf once nothing is being worked on there."""
    end = time.monotonic() + seconds
    while 'class="working"' in (page := desk.get(leaf)).text:
        assert time.monotonic() < end, "the work does not end"
        time.sleep(0.1)
    return page


def looked_for(desk: DeskWindow) -> Answer:
    """Have others looked for; return the leaf that shows them."""
    answer = desk.post(OTHERS, {"version": version(desk)})
    assert answer.headers["location"] == OTHERS
    return ended(desk, OTHERS)


def kept(studio: Path, slug: str) -> Routine:
    return read_routine(studio / "routines" / slug / "routine.json")


def folders(studio: Path) -> set[str]:
    return {path.name for path in (studio / "routines").iterdir()}


def by_bar(routine: Routine) -> list[tuple[object, object]]:
    return [(p.technique, p.side) for p in routine.line for _ in range(p.bars)]


def keeps_what_must_be_kept(routine: Routine) -> bool:
    return not [f for f in check(routine, CRAFT) if f.severity is Severity.MUST]


# ------------------------------------------------------------------ quite different routines
def test_three_others_are_shown_and_each_can_be_kept(desk: DeskWindow, studio: Path) -> None:
    before = kept(studio, "lamplight")
    files = {p: p.read_bytes() for p in (studio / "routines" / "lamplight").glob("*.*")}
    page = looked_for(desk)
    said = [int(n) for n in re.findall(r"(\d+) percent of the time is as in this one", page.words)]
    ways = re.findall(r'name="way" value="(\w+)"', page.text)
    assert len(said) == len(ways) == len(set(ways)) == 3
    assert page.words.count("15:00 minutes") == 4  # this one and three others
    assert page.words.count("the nearest of these to your wishes") == 1
    assert page.words.count("to your wishes") + page.words.count("from your wishes") >= 4

    for number, way in enumerate(ways, start=2):
        answer = desk.post(f"{OTHERS}/keep", {"version": version(desk), "way": way})
        assert answer.headers["location"] == f"/r/lamplight-{number}/"
        assert f"Lamplight {number}" in desk.then(answer).words
    found = [kept(studio, f"lamplight-{number}") for number in (2, 3, 4)]
    for number, other in enumerate(found, start=2):
        assert other.clock.total_seconds == pytest.approx(900, abs=0.05 * 900)
        assert keeps_what_must_be_kept(other)
        assert before.brief is not None
        assert other.brief == replace(before.brief, title=f"Lamplight {number}")
        beside = read_brief(studio / "routines" / f"lamplight-{number}" / "brief.toml")
        assert beside == other.brief
    alike = [
        100 * sum(a == b for a, b in zip(by_bar(before), by_bar(other), strict=True)) / before.bars
        for other in found
    ]
    assert said == [round(share) for share in alike]
    assert max(alike) <= 50
    assert {p: p.read_bytes() for p in files} == files  # the one that was there stays as it is


def test_nothing_that_is_there_is_overwritten(desk: DeskWindow, studio: Path) -> None:
    """A folder, and a title, that are taken already."""
    (studio / "routines" / "lamplight-2").mkdir()
    (studio / "routines" / "lamplight-2" / "mine.txt").write_text("hers", "utf-8")
    named = replace(demo_routine(), title="Lamplight 2")
    Shelf(studio).add(named, "", "Planned.")
    assert "lamplight-2-2" in folders(studio)
    way = looked_for(desk).value("way")
    answer = desk.post(f"{OTHERS}/keep", {"version": version(desk), "way": way})
    assert answer.headers["location"] == "/r/lamplight-3/"
    assert kept(studio, "lamplight-3").title == "Lamplight 3"
    assert [p.name for p in (studio / "routines" / "lamplight-2").iterdir()] == ["mine.txt"]
    assert not [name for name in folders(studio) if name.startswith(".new-")]


def test_a_window_that_was_left_behind_keeps_nothing(desk: DeskWindow, studio: Path) -> None:
    seen = version(desk)
    way = looked_for(desk).value("way")
    changed = desk.post("/r/lamplight/change", {"version": seen, "p": "p02", "what": "keep"})
    assert changed.status == 303
    there = folders(studio)
    for path, fields in (
        (OTHERS, {}),
        (f"{OTHERS}/keep", {"way": way}),
        (LEVELS, {"level": "1"}),
    ):
        answer = desk.post(path, {"version": seen, **fields})
        assert answer.status == 409
        assert "changed in another window" in answer.words
    page = desk.get(OTHERS)
    assert "was changed since others were looked for" in page.words
    assert 'name="way"' not in page.text
    assert folders(studio) == there


def test_what_was_not_found_cannot_be_kept(desk: DeskWindow, studio: Path) -> None:
    there = folders(studio)
    answer = desk.post(f"{OTHERS}/keep", {"version": version(desk), "way": "0" * 12})
    assert answer.status == 422
    assert "not known any more" in answer.words
    assert folders(studio) == there


@pytest.mark.parametrize("leaf", [OTHERS, LEVELS])
def test_a_routine_without_its_wish_says_so(tmp_path: Path, leaf: str) -> None:
    studio = studio_with_demo(tmp_path)
    bare = replace(demo_routine(), title="Found Paper", brief=None)
    Shelf(studio).add(bare, "", "Planned.")
    desk = DeskWindow(studio)
    path = leaf.replace("lamplight", "found-paper")
    seen = desk.get("/r/found-paper/").value("version")
    answer = desk.post(path, {"version": seen, "level": "1"})
    assert answer.status == 422
    assert "does not say what it was asked to be" in answer.words
    assert 'class="working"' not in answer.text


def test_others_of_a_routine_that_was_changed_keep_what_she_keeps(
    desk: DeskWindow, studio: Path
) -> None:
    changed = desk.post(
        "/r/lamplight/change", {"version": version(desk), "p": "p02", "what": "keep"}
    )
    assert changed.status == 303
    held = [p for p in kept(studio, "lamplight").line if p.kept]
    assert held
    page = looked_for(desk)
    ways = re.findall(r'name="way" value="(\w+)"', page.text)
    assert ways
    desk.post(f"{OTHERS}/keep", {"version": version(desk), "way": ways[-1]})
    other = kept(studio, "lamplight-2")
    there = {(p.technique, p.side) for p in other.line}
    assert {(p.technique, p.side) for p in held} <= there


@pytest.fixture
def held_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let work that has told its first stage stand still until it is to stop: on a busy machine it
    may end before the next press comes."""
    begin, stop = Job.__init__, Job.stop

    def begin_and_hold(job: Job, order: Mapping[str, object]) -> None:
        begin(job, order)
        end = time.monotonic() + 60
        while not job.state.stages:
            assert time.monotonic() < end, "the work does not begin"
            time.sleep(0.002)
        os.killpg(job._process.pid, signal.SIGSTOP)

    def stop_and_let_go(job: Job) -> None:
        stop(job)
        os.killpg(job._process.pid, signal.SIGCONT)

    monkeypatch.setattr(Job, "__init__", begin_and_hold)
    monkeypatch.setattr(Job, "stop", stop_and_let_go)


@pytest.mark.usefixtures("held_up")
@pytest.mark.parametrize(("leaf", "about"), [(OTHERS, "others"), (LEVELS, "levels")])
def test_planning_can_be_stopped_and_nothing_is_kept(
    desk: DeskWindow, studio: Path, leaf: str, about: str
) -> None:
    there = folders(studio)
    assert desk.post(leaf, {"version": version(desk), "level": ["1", "2"]}).status == 303
    stopped = desk.post("/r/lamplight/working/stop", {"about": f"{about} lamplight"})
    assert stopped.headers["location"] == leaf
    page = desk.then(stopped)
    assert "Stopped" in page.words
    assert 'class="working"' not in page.text
    assert folders(studio) == there


@pytest.mark.usefixtures("held_up")
def test_planning_can_be_stopped_at_a_desk_that_ignores_interrupts(desk: DeskWindow) -> None:
    """As one that a script began in the background: what works for it is asked to stop by one."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        desk.post(OTHERS, {"version": version(desk)})
        desk.post("/r/lamplight/working/stop", {"about": "others lamplight"})
    finally:
        signal.signal(signal.SIGINT, before)
    assert "Stopped" in ended(desk, OTHERS).words


# ------------------------------------------------------------------ other levels
def test_each_level_becomes_a_routine_of_its_own(desk: DeskWindow, studio: Path) -> None:
    before = (studio / "routines" / "lamplight" / "routine.json").read_bytes()
    form = {"version": version(desk), "level": ["1", "3"]}
    assert desk.post(LEVELS, form).headers["location"] == LEVELS
    page = ended(desk, LEVELS)
    simple, rich = (kept(studio, f"lamplight-level-{n}") for n in (1, 3))
    for level, routine in ((1, simple), (3, rich)):
        assert routine.title == f"Lamplight, level {level}"
        assert routine.brief is not None
        assert routine.brief.level == level
        assert keeps_what_must_be_kept(routine)
        harder = {
            p.technique
            for p in routine.line
            if p.technique and CRAFT.technique(p.technique).level > level
        }
        assert len(harder) <= 1  # one stretch passage
        assert f'href="/r/lamplight-level-{level}/"' in page.text
        assert desk.get(f"/r/lamplight-level-{level}/").status == 200
    used = [{p.technique for p in r.line if p.technique} for r in (simple, rich)]
    told = page.words[page.words.index("What differs") :]
    for id in used[1] - used[0]:
        assert CRAFT.technique(id).plain in told
    alike = sum(a == b for a, b in zip(by_bar(simple), by_bar(rich), strict=True)) / rich.bars
    assert f"From level 1 to 3: {round(100 * alike)} percent of the bars are alike" in told
    assert (studio / "routines" / "lamplight" / "routine.json").read_bytes() == before


def test_planned_twice_the_same_level_is_kept_once(desk: DeskWindow, studio: Path) -> None:
    """What she changed since is no longer the same, and stays hers beside a new one."""
    already = "It was among your routines already, just so"
    form = {"version": version(desk), "level": ["1", "2"]}
    desk.post(LEVELS, form)
    assert already not in ended(desk, LEVELS).words
    there = folders(studio)
    files = {p: p.read_bytes() for p in (studio / "routines").glob("*level*/*.*")}
    desk.post(LEVELS, form)
    page = ended(desk, LEVELS)
    assert folders(studio) == there
    assert {p: p.read_bytes() for p in files} == files
    assert page.words.count(already) == 2
    assert 'href="/r/lamplight-level-1/"' in page.text

    first = desk.get("/r/lamplight-level-1/").value("version")
    change = {"version": first, "p": "p02", "what": "keep"}
    assert desk.post("/r/lamplight-level-1/change", change).status == 303
    hers = (studio / "routines" / "lamplight-level-1" / "routine.json").read_bytes()
    desk.post(LEVELS, form)
    page = ended(desk, LEVELS)
    assert page.words.count(already) == 1
    assert folders(studio) - there == {"lamplight-level-1-2"}
    assert (studio / "routines" / "lamplight-level-1" / "routine.json").read_bytes() == hers


@pytest.mark.parametrize("levels", [[], ["9"], ["0"], ["one"], ["-1"]])
def test_only_levels_that_there_are_can_be_picked(
    desk: DeskWindow, studio: Path, levels: list[str]
) -> None:
    there = folders(studio)
    answer = desk.post(LEVELS, {"version": version(desk), "level": levels})
    assert answer.status == 422
    assert "Traceback" not in answer.words
    assert folders(studio) == there


def test_a_level_that_cannot_be_met_says_why(tmp_path: Path) -> None:
    """What is kept is four levels above a couple of level 1; levels that can be met are kept."""
    studio = studio_with_demo(tmp_path)
    hard = CRAFT.technique("millstone")
    assert hard.level == 5
    brief = replace(
        demo_brief(), title="Deep Water", level=5, minutes=Fraction(8), refrains=None, spare=(),
        keep=(Keep(technique=hard.id),),
    )  # fmt: skip
    routine = plan(brief, CRAFT, effort=QUICK).routine
    assert routine is not None
    Shelf(studio).add(with_cues(routine, CRAFT), "", "Planned.")
    desk = DeskWindow(studio)
    seen = desk.get("/r/deep-water/").value("version")
    for picked, made in ((["1", "5"], {"deep-water-level-5"}), (["1", "2"], set[str]())):
        there = folders(studio)
        assert desk.post("/r/deep-water/levels", {"version": seen, "level": picked}).status == 303
        words = ended(desk, "/r/deep-water/levels").words
        lowest = "1" if made else "2"
        assert f"No routine was found for level {lowest}." in words
        reasons = words[words.index("No routine was found for") :]
        assert hard.plain in reasons
        assert ("Without it the other levels were not planned." in words) == (not made)
        assert folders(studio) - there == made


def test_progress_tells_of_each_one_that_was_found() -> None:
    class Heard:
        def __init__(self) -> None:
            self.total, self.done = 0.0, 0.0

        def begin(self, stage: str, total: float) -> None:
            self.total = total

        def advance(self, done: float) -> None:
            self.done += done

        def end(self) -> None: ...

    routine = demo_routine()
    assert routine.brief is not None
    heard = Heard()
    found = make_others(routine.brief, CRAFT, routine, count=2, progress=heard)
    assert (heard.total, heard.done) == (2, len(found))
    heard = Heard()
    make_levels(replace(demo_brief(), minutes=Fraction(6)), CRAFT, (1, 2), progress=heard)
    assert (heard.total, heard.done) == (2, 2)


def test_a_family_of_one_of_a_family_is_called_by_its_first_name() -> None:
    brief = replace(demo_brief(), title="Lamplight, level 2")
    assert _for_level(brief, 3).title == "Lamplight, level 3"
    assert _for_level(demo_brief(), 3).title == "Lamplight, level 3"


def test_a_level_is_called_so_in_the_language_of_the_routine() -> None:
    german = replace(demo_brief(), language=Language.GERMAN)
    first = _for_level(german, 3)
    assert first.title == "Lamplight, Stufe 3"
    assert _for_level(first, 4).title == "Lamplight, Stufe 4"
    assert _for_level(replace(first, language=None), 4).title == "Lamplight, level 4"


def test_a_routine_beside_finds_the_same_track(studio: Path) -> None:
    track = studio / "routines" / "lamplight" / "music" / "walk.flac"
    track.parent.mkdir(exist_ok=True)
    track.write_bytes(b"a track")
    routine = demo_routine()
    beats = tuple(float(s) for s in range(routine.bars * routine.beats_per_bar + 1))
    music = Music(kind="track", path="music/walk.flac", beat_seconds=beats)
    assert routine.brief is not None
    brief = replace(routine.brief, track="music/walk.flac")
    new = Shelf(studio).add_beside(
        "lamplight", replace(routine, title="Other", music=music, brief=brief), "Planned."
    )
    path = new.routine.music.path
    assert path is not None
    assert (new.folder / path).resolve() == track.resolve()
    assert read_brief(new.folder / "brief.toml").track == path


# ------------------------------------------------------------------ in a real browser
@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return studio_with_demo(tmp_path_factory.mktemp("walk"))


@pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")
def test_others_and_levels_by_pointer_and_by_keyboard(walked: Path) -> None:
    with browser_tab() as tab, running_desk(walked) as desk:
        tab.open(desk.address)
        tab.open(f"{desk.base}/r/lamplight/")
        press(tab, f"form[action='{OTHERS}'] button")
        tab.wait_for("document.querySelectorAll('.way').length === 4", 120)
        assert tab.run("location.pathname") == OTHERS
        tab.wait_for("document.getElementById('told').textContent !== ''")
        tab_to(tab, "e.matches('.way button')")
        tab.press("Enter")
        tab.wait_for("location.pathname === '/r/lamplight-2/'", 30)
        tab.wait_for("document.querySelector('h1')?.textContent.trim() === 'Lamplight 2'", 30)

        tab.open(f"{desk.base}{LEVELS}")
        tab.run("[...document.querySelectorAll('[name=level]')].forEach((b) => b.checked = false)")
        tab_to(tab, "e.name === 'level' && e.value === '1'")
        tab.press(" ")
        tab_to(tab, "e.matches('form[action$=levels] button')")
        tab.press("Enter")
        tab.wait_for("document.querySelectorAll('.way').length === 1", 120)
        assert text_of(tab, ".way a") == "Lamplight, level 1"
        for leaf in (OTHERS, LEVELS):
            for width in (1280, 320):
                tab.open(f"{desk.base}{leaf}", width, 700)
                assert tab.run("document.querySelectorAll('.way').length") > 0
                assert tab.run("document.documentElement.scrollWidth <= window.innerWidth"), leaf
                if AXE.is_file():
                    assert barriers(tab) == [], leaf
        assert tab.troubles == []
