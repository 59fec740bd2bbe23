"""The Hands leaf in a real browser: found, opened, taught and named, by pointer and by keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from chromium import Tab, browser_tab, find_chromium
from desk_browser import AXE, barriers, choose, press, tab_to, text_of
from desk_client import DeskClient, running_desk, studio_with_demo
from rondel.adapters.studio_files import craft_for

pytestmark = pytest.mark.skipif(
    find_chromium() is None,
    reason="no Chromium on this machine (Debian: apt-get install chromium, as root)",
)
needs_axe = pytest.mark.skipif(not AXE.is_file(), reason="no axe-core yet: run bin/axe")

READY = "document.documentElement?.dataset.ready === 'yes'"


@pytest.fixture(scope="module")
def tab() -> Iterator[Tab]:
    with browser_tab() as found:
        yield found


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return studio_with_demo(tmp_path_factory.mktemp("desk"))


@pytest.fixture(scope="module")
def desk(studio: Path, tab: Tab) -> Iterator[DeskClient]:
    with running_desk(studio) as client:
        tab.open(client.address)
        yield client


@pytest.fixture(autouse=True)
def no_trouble(tab: Tab) -> Iterator[None]:
    """No page may complain, and none may ask anything of anybody else."""
    tab.troubles.clear()
    tab.asked.clear()
    yield
    assert [t for t in tab.troubles if "422" not in t] == []
    assert [a for a in tab.asked if not a.startswith("http://127.0.0.1:")] == []


def opened(tab: Tab, desk: DeskClient, path: str, width: int = 1280) -> None:
    tab.open(desk.base + path, width)
    tab.wait_for(READY)


def typed(tab: Tab, text: str) -> None:
    """Put `text` in the place of what the focused field holds, as a keyboard does."""
    tab.run("document.activeElement.select()")
    tab.call("Input.insertText", text=text)


HAND = "document.querySelector('#drawn .hand').getAttribute('transform')"


def test_a_card_is_found_while_typing_and_its_figure_moves(tab: Tab, desk: DeskClient) -> None:
    tab.open(desk.base + "/")
    press(tab, "a[href='/hands']")
    tab.wait_for(f"location.pathname === '/hands' && {READY}")
    assert tab.run("document.querySelectorAll('.hands li').length") > 100
    press(tab, "#find input[type=search]")
    typed(tab, "slow river")
    tab.wait_for("document.querySelectorAll('.hands li').length === 1")
    assert "1 of " in text_of(tab, "#found [role=status]")
    tab.wait_for("document.querySelector('.hands img').naturalWidth > 0")
    press(tab, ".hands a")
    tab.wait_for(f"location.pathname === '/hands/t/slow-river' && {READY}")
    before = tab.run(HAND)
    tab.wait_for(f"{HAND} !== {before!r}")


def test_hands_hold_still_where_motion_is_not_wanted(tab: Tab, desk: DeskClient) -> None:
    wish = [{"name": "prefers-reduced-motion", "value": "reduce"}]
    tab.call("Emulation.setEmulatedMedia", features=wish)
    try:
        opened(tab, desk, "/hands/t/slow-river")
        before = tab.run(HAND)
        tab.run("new Promise((done) => setTimeout(done, 400))")
        assert tab.run(HAND) == before
    finally:
        tab.call("Emulation.setEmulatedMedia", features=[])


def test_a_limit_is_told_while_she_types_and_the_figure_is_drawn_again(
    tab: Tab, desk: DeskClient, studio: Path
) -> None:
    opened(tab, desk, "/hands/t/slow-river/edit")
    choose(tab, "[name=region]", "feet")
    tab.wait_for("document.querySelector('#drawn title').textContent.includes('foot')")
    tab.wait_for("document.getElementById('why-path_cm').textContent.includes('too far')")
    assert (
        tab.run("document.querySelector('[name=path_cm]').getAttribute('aria-invalid')") == "true"
    )
    press(tab, "#teach .strong")
    tab.wait_for("document.querySelector('#main [role=alert]')")
    assert "not kept yet" in text_of(tab, "#main [role=alert]")
    assert craft_for(studio).technique("slow-river").region == "back"
    tab.wait_for(READY)
    choose(tab, "[name=path_cm]", "40")
    tab.wait_for("document.getElementById('why-path_cm').textContent === ''")
    choose(tab, "[name=region]", "back")
    choose(tab, "[name=path_cm]", "80")


def test_a_technique_is_taught_by_keyboard_alone(tab: Tab, desk: DeskClient, studio: Path) -> None:
    opened(tab, desk, "/r/lamplight/hands")
    tab_to(tab, "e.textContent === 'Teach another'")
    tab.press("Enter")
    tab.wait_for(f"location.pathname === '/r/lamplight/hands/new' && {READY}")
    words = {
        "plain": "Moon Path",
        "anatomical": "Erector spinae",
        "how": "Glide up and come home.",
        "say": "Up, and home.",
    }
    for name, text in words.items():
        tab_to(tab, f"e.name === {name!r}")
        outline = tab.run("getComputedStyle(document.activeElement).outlineStyle")
        assert outline == "solid"
        typed(tab, text)
    tab_to(tab, "e.textContent === 'Keep it'")
    tab.press("Enter")
    tab.wait_for(f"location.pathname === '/r/lamplight/hands/t/moon-path' && {READY}")
    assert "Moon Path is among your hands now" in text_of(tab, ".news")
    assert craft_for(studio).technique("moon-path").how == "Glide up and come home."


def test_names_are_counted_drawn_and_chosen(tab: Tab, desk: DeskClient, studio: Path) -> None:
    opened(tab, desk, "/hands/t/first-rain")
    for name, remembered in (("First Rain", "4"), ("Soft Hail", "15")):
        form = "form[action$='/count']"
        for field, value in (("audience", "Tuesday couples"), ("name", name), ("shown", "16"),
                             ("remembered", remembered)):  # fmt: skip
            choose(tab, f"{form} [name={field}]", value)
        press(tab, f"{form} .word")
        tab.wait_for(f"document.querySelector('.plot')?.textContent.includes({name!r}) && {READY}")
    assert text_of(tab, ".verdicts") == "Soft Hail is clearly better than First Rain."
    assert tab.run("document.querySelector('.plot').getBoundingClientRect().width") > 200
    press(tab, "form[action$='/name'] .word")
    tab.wait_for("document.getElementById('technique')?.textContent === 'Soft Hail'")
    assert craft_for(studio).technique("first-rain").plain == "Soft Hail"


PATHS = ("/hands", "/hands/t/first-rain", "/hands/t/first-rain/edit", "/hands/new",
         "/r/lamplight/hands")  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("width", [1280, 320])
def test_nothing_lies_beside_the_window(tab: Tab, desk: DeskClient, path: str, width: int) -> None:
    opened(tab, desk, path, width)
    tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert tab.run("document.documentElement.scrollWidth") <= width


@needs_axe
@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("width", [1280, 320])
def test_there_is_no_barrier(tab: Tab, desk: DeskClient, path: str, width: int) -> None:
    opened(tab, desk, path, width)
    tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert barriers(tab) == []


@needs_axe
def test_there_is_no_barrier_where_something_was_refused(tab: Tab, desk: DeskClient) -> None:
    opened(tab, desk, "/hands/t/slow-river/edit")
    choose(tab, "[name=path_cm]", "200")
    press(tab, "#teach .strong")
    tab.wait_for(f"document.querySelector('#main [role=alert]') && {READY}")
    assert barriers(tab) == []
