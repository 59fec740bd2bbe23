"""A change that is refused says so where she looks: in the window, with the focus, read out."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from chromium import Tab, browser_tab, find_chromium
from desk_browser import AXE, barriers, choose, press, text_of
from desk_client import DeskClient, running_desk, studio_with_demo
from rondel.model.time import as_minutes

pytestmark = pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")

READY = "document.documentElement.dataset.ready === 'yes'"
#: All of what is told lies in the window, or as much of it as the window holds.
IN_VIEW = (
    "(({top, bottom, height}) => top >= 0 && (bottom <= innerHeight || height > innerHeight))"
    "(document.querySelector('.news').getBoundingClientRect())"
)


def version(tab: Tab) -> str:
    return str(tab.run("document.getElementById('page').dataset.version"))


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DeskClient]:
    with running_desk(studio_with_demo(tmp_path_factory.mktemp("refused"))) as client:
        yield client


@pytest.fixture(scope="module")
def tab(desk: DeskClient) -> Iterator[Tab]:
    with browser_tab() as found:
        found.open(desk.address)
        yield found


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (320, 640)])
@pytest.mark.parametrize("motion", ["no-preference", "reduce"])
def test_why_not_is_seen_has_the_focus_and_is_read_out(
    tab: Tab, desk: DeskClient, width: int, height: int, motion: str
) -> None:
    """WCAG 2.2, 4.1.3: the first passage cannot start late, and the form for it lies far below."""
    tab.prefer(prefers_reduced_motion=motion)
    tab.open(f"{desk.base}/r/lamplight/", width, height)
    tab.wait_for(READY)
    asked = "window.behaviours = []; const real = Element.prototype.scrollIntoView; "
    asked += "Element.prototype.scrollIntoView = function (how) { "
    asked += "behaviours.push(how.behavior); real.call(this, how); };"
    tab.run("document.querySelector('#passage .further').open = true")
    choose(tab, "#passage input[name=to]", "14:50")
    tab.run(
        "document.querySelector('#passage .further .one button').scrollIntoView({block: 'end'})"
    )
    tab.run(f"(() => {{ {asked} return true; }})()")
    tab.run("document.querySelector('#passage .further .one button').focus()")
    tab.press("Enter")
    tab.wait_for("document.querySelector('.news > .trouble')", 60)
    tab.wait_for(IN_VIEW)
    assert tab.run("document.activeElement.matches('.news')")
    assert tab.run("behaviours") == ["auto" if motion == "reduce" else "smooth"]
    tab.wait_for("document.getElementById('told').textContent.includes('not changed')")
    # What comes next by keyboard comes next on the leaf: nothing leads back to the page.
    tab.press("Tab")
    assert tab.run("document.getElementById('passage').contains(document.activeElement)")
    if AXE.is_file():
        assert barriers(tab) == []
    tab.prefer()


def test_without_a_script_the_focus_is_there_too(desk: DeskClient) -> None:
    version = desk.ask("/r/lamplight/version").text.split('"')[3]
    first = desk.ask("/r/lamplight/").text.split('name="p" value="')[1].split('"')[0]
    form = {"version": version, "p": first, "what": "move", "to": "14:50"}
    answer = desk.ask("/r/lamplight/change", form)
    assert answer.status == 422
    assert '<div class="news" tabindex="-1" autofocus>' in answer.text
    assert "autofocus" not in desk.ask("/r/lamplight/").text


def test_a_change_that_is_done_leaves_the_focus_where_it_was(tab: Tab, desk: DeskClient) -> None:
    tab.open(f"{desk.base}/r/lamplight/", 1280, 800)
    tab.wait_for(READY)
    before = tab.run("document.getElementById('page').dataset.version")
    press(tab, "#edits [value=lengthen]")
    tab.wait_for(f"document.getElementById('page').dataset.version !== {before!r}", 30)
    tab.wait_for("document.querySelector('.news > .done')")
    tab.wait_for(IN_VIEW)
    assert tab.run("document.activeElement.value") == "lengthen"
    assert text_of(tab, ".news .trouble") == ""


@pytest.mark.parametrize("width", [1280, 320])
def test_a_change_that_cannot_be_offers_one_that_can_at_a_press(tmp_path: Path, width: int) -> None:
    """A move to the very end: nothing firm may stand there, and something earlier may."""
    with running_desk(studio_with_demo(tmp_path)) as own, browser_tab() as tab:
        tab.open(own.address)
        tab.open(f"{own.base}/r/lamplight/?p=p06", width, 800)
        tab.wait_for(READY)
        tab.wait_for("!document.querySelector('#instead[data-later]')", 30)
        began = version(tab)
        tab.run("document.querySelector('.further').open = true")
        form = "#passage .one:has([value=move])"
        choose(tab, f"{form} [name=to]", "14:40")
        press(tab, f"{form} button")
        tab.wait_for("document.querySelector('#passage .offers button')", 30)
        assert version(tab) == began
        assert barriers(tab) == []
        offered = text_of(tab, "#passage .offers button")
        at = offered.removesuffix(".").split()[-1]
        press(tab, "#passage .offers button")
        tab.wait_for(f"document.getElementById('page').dataset.version !== {began!r}", 30)
        starts = tab.run("JSON.parse(document.getElementById('rows').textContent)")
        here = next(
            row
            for row in starts
            if row["id"] == tab.run("document.getElementById('passage').dataset.p")
        )
        minutes, seconds = at.split(":")
        assert abs(here["start"] - 60 * int(minutes) - int(seconds)) <= 4  # a bar
        says = text_of(tab, "#passage .done")
        assert says == f"Plum Press moves to {as_minutes(here['start'])}."
        press(tab, "#back")
        tab.wait_for(f"document.getElementById('page').dataset.version === {began!r}")


def test_why_a_sentence_cannot_be_is_where_she_lands_and_a_way_out_leads_to_what_to_press(
    tmp_path: Path,
) -> None:
    with running_desk(studio_with_demo(tmp_path)) as own, browser_tab() as tab:
        tab.open(own.address)
        for width in (1280, 320):
            tab.open(f"{own.base}/", width, 700)
            tab.wait_for("document.querySelector('#brief .do button')")
            tab.run("document.querySelector('#brief .further').open = true")
            choose(tab, "[name=minutes]", "3")
            choose(tab, "[name=refrains]", "6")
            press(tab, "#brief .do button")
            tab.wait_for("location.pathname === '/new' && document.querySelector('.ways-out')", 30)
            seen = "document.activeElement.id === 'sketch' && document.querySelector('.reasons')"
            tab.wait_for(f"{seen}.getBoundingClientRect().top < innerHeight")
            press(tab, ".ways-out button")
            tab.wait_for("document.activeElement.matches('#brief .do button')", 30)
            box = "document.activeElement.getBoundingClientRect()"
            tab.wait_for(f"{box}.top >= 0 && {box}.bottom <= innerHeight")
            assert barriers(tab) == []
