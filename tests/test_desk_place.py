"""She keeps her place in the open book: the focus, what she typed, and what is read out to her."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from chromium import Tab, browser_tab, find_chromium
from desk_browser import press, tab_to, text_of
from desk_client import DeskClient, running_desk, studio_with_demo

pytestmark = pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")

READY = "document.documentElement.dataset.ready === 'yes'"
CHOSEN = "document.getElementById('page').dataset.chosen"


@pytest.fixture(scope="module")
def tab() -> Iterator[Tab]:
    with browser_tab() as found:
        yield found


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, tab: Tab) -> Iterator[DeskClient]:
    with running_desk(studio_with_demo(tmp_path_factory.mktemp("place"))) as client:
        tab.open(client.address)
        yield client


@pytest.fixture(autouse=True)
def book(tab: Tab, desk: DeskClient) -> Iterator[None]:
    """The open book, with all that its live region tells written down; no fault in the end."""
    tab.open(f"{desk.base}/r/lamplight/")
    tab.wait_for(READY)
    tab.run(
        "(() => { window.heardOf = []; window.region = document.querySelector('#told'); "
        "if (region) new MutationObserver(() => heardOf.push(region.textContent))"
        ".observe(region, {childList: true, characterData: true, subtree: true}); return true; })()"
    )
    tab.troubles.clear()
    yield
    assert tab.troubles == []


def heard_of(tab: Tab) -> str:
    assert tab.run("window.region === document.querySelector('#told') && !region.closest('main')")
    return str(tab.run("heardOf.filter(Boolean).join(' | ')"))


def next_to(tab: Tab, number: int) -> str:
    return str(tab.run(f"JSON.parse(document.getElementById('rows').textContent)[{number}].id"))


def test_what_is_heard_leaves_her_where_she_types(tab: Tab) -> None:
    """WCAG 2.2, 3.2.1 and 2.4.3: a passage that begins takes neither focus nor words from her."""
    press(tab, ".further > summary")
    tab.run("(document.querySelector('#passage [name=to][type=text]').focus(), true)")
    tab.run("(document.activeElement.select(), true)")
    tab.type("12:34")
    first = str(tab.run(CHOSEN))
    # The clock of the sound goes twelve times as fast: the next passage begins within seconds.
    tab.run(
        "(() => { Object.defineProperty(AudioContext.prototype, 'currentTime', {get() { "
        "const at = (performance.now() - (this.born ??= performance.now())) / 1000; "
        "return at * 12; }}); return true; })()"
    )
    tab.run("(document.getElementById('hear').click(), true)")
    tab.wait_for(f"{CHOSEN} !== {first!r}", 30)
    time.sleep(1.0)
    assert tab.run("document.activeElement.value") == "12:34"
    assert tab.run("document.querySelector('#passage').contains(document.activeElement)")
    assert tab.run("document.getElementById('passage').dataset.p") == first
    # Once she is done there, the right leaf shows what is heard.
    tab.run(
        "(() => { const f = document.activeElement; f.value = f.defaultValue; f.blur(); "
        "return true; })()"
    )
    tab.wait_for(f"document.getElementById('passage').dataset.p === {CHOSEN}")
    tab.run(
        "(document.getElementById('hear').getAttribute('aria-pressed') === 'true' && "
        "document.getElementById('hear').click(), true)"
    )


def test_a_chosen_passage_and_what_came_of_a_change_are_read_out(tab: Tab) -> None:
    """WCAG 2.2, 4.1.2 and 4.1.3; ARIA practices: a listbox names its active option."""
    tab.run(
        "(document.getElementById('page').focus(), window.stays = document.activeElement, true)"
    )
    second = next_to(tab, 1)
    tab.press("ArrowRight")
    tab.wait_for(f"document.getElementById('passage').dataset.p === {second!r}")
    tab.wait_for("region.textContent")
    words = text_of(tab, f".passages a[data-p={second}] .name")
    start = text_of(tab, f".passages a[data-p={second}] .at")
    facts = text_of(tab, f".passages a[data-p={second}] .facts")
    assert heard_of(tab) == f"{start} {words}, {facts}"
    assert tab.run("document.activeElement === stays && stays.id === 'page'")
    nodes = tab.call("Accessibility.getFullAXTree")["nodes"]
    box = next(n for n in nodes if n.get("role", {}).get("value") == "listbox")
    active = next(p for p in box["properties"] if p["name"] == "activedescendant")
    assert active["value"]["relatedNodes"][0]["idref"] == f"option-{second}"
    named = [n["name"]["value"] for n in nodes if n.get("role", {}).get("value") == "option"]
    assert f"{start} {words}" in named

    before = tab.run("document.getElementById('page').dataset.version")
    press(tab, "#edits [value=keep]")
    tab.wait_for(f"document.getElementById('page').dataset.version !== {before!r}", 30)
    tab.wait_for("heardOf.some((words) => words.includes('is kept as it is'))")
    assert "kept as it is" in heard_of(tab)
    assert tab.run("document.getElementById('page') === stays")
    assert "said=" not in tab.run("location.search")  # looked at again, it is no news
    press(tab, "#back")
    tab.wait_for(f"document.getElementById('page').dataset.version === {before!r}")


def test_arrow_keys_may_be_quicker_than_the_desk(tab: Tab) -> None:
    tab.run("(document.getElementById('page').focus(), true)")
    tab.press("Home")
    for _ in range(6):
        tab.press("ArrowRight")
    assert tab.run(CHOSEN) == next_to(tab, 6)
    tab.wait_for(f"document.getElementById('passage').dataset.p === {next_to(tab, 6)!r}")


def test_an_opened_list_does_not_lie_over_what_comes_next(tab: Tab, desk: DeskClient) -> None:
    """WCAG 2.2, 2.4.11: what has the focus is not hidden; Escape closes it from anywhere."""
    tab.open(f"{desk.base}/")
    tab_to(tab, "e.matches('.pick > summary')")
    tab.press("Enter")
    tab.wait_for("document.querySelector('.pick[open]')")
    tab_to(tab, "!e.closest('.pick[open]')")
    tab.wait_for("!document.querySelector('.pick[open]')")
    tab.run("(document.querySelector('.pick').open = true, document.activeElement.blur(), true)")
    tab.press("Escape")
    assert not tab.run("document.querySelector('.pick[open]')")
