"""The desk in a real browser, walked through as its issue asks: by pointer, by keyboard, narrow."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from chromium import Tab, browser_tab, find_chromium
from desk_browser import AXE, LEAVES, barriers, choose, press, tab_to, text_of
from desk_client import DeskClient, running_desk, studio_with_demo
from rondel.adapters.routine_shelf import Shelf
from rondel.desk.leaves.hear import QUICK
from rondel.desk.making_cost import cost_of

pytestmark = pytest.mark.skipif(
    find_chromium() is None,
    reason="no Chromium on this machine (Debian: apt-get install chromium, as root)",
)


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
    expected = ("409", "422")  # answers that say why not, with a page of their own
    assert [t for t in tab.troubles if not any(code in t for code in expected)] == []
    assert [a for a in tab.asked if not a.startswith(("http://127.0.0.1:", "data:", "blob:"))] == []


#: True once the scripts of the page have been run: a person is never as quick.
READY = "document.documentElement.dataset.ready === 'yes'"


def chosen(tab: Tab) -> str:
    return str(tab.run("document.getElementById('page').dataset.chosen"))


def version(tab: Tab) -> str:
    return str(tab.run("document.getElementById('page').dataset.version"))


def pick(tab: Tab, number: int) -> None:
    """Choose the passage at `number` of the page, as with arrow keys."""
    tab.wait_for(READY)
    tab.run("document.getElementById('page').focus()")
    tab.press("Home")
    first = tab.run("JSON.parse(document.getElementById('rows').textContent)[0].id")
    shown = "document.getElementById('passage').dataset.p"
    tab.wait_for(f"{shown} === {first!r}")
    for n in range(1, number + 1):
        tab.press("ArrowRight")
        there = tab.run(f"JSON.parse(document.getElementById('rows').textContent)[{n}].id")
        tab.wait_for(f"{shown} === {there!r}")


def test_from_first_start_to_an_opened_session(tab: Tab, tmp_path: Path) -> None:
    """First start, a new routine from a sentence, edit, undo, keep, swap, hear, make, open."""
    with running_desk(tmp_path / "new studio") as desk:
        tab.open(desk.address)
        assert "Lamplight" in text_of(tab, ".shelf")
        choose(tab, "[name=title]", "Harbour")
        choose(tab, "[name=minutes]", "3")
        tab.wait_for("document.querySelector('#sketch .shape svg')")
        press(tab, "#brief .do button")
        tab.wait_for("location.pathname === '/r/harbour/' && document.getElementById('page')", 60)
        began = version(tab)

        pick(tab, 1)
        press(tab, "#edits [value=keep]")
        tab.wait_for("document.querySelector('#edits [value=free]')", 30)
        kept = version(tab)
        assert kept != began
        press(tab, "#back")
        tab.wait_for(f"document.getElementById('page').dataset.version === {began!r}")
        press(tab, "#on")
        tab.wait_for(f"document.getElementById('page').dataset.version === {kept!r}")

        swaps = ".instead button"
        for number in range(2, 8):
            pick(tab, number)
            tab.wait_for("!document.querySelector('#instead[data-later]')")
            if tab.run(f"Boolean(document.querySelector({swaps!r}))"):
                break
        name = text_of(tab, swaps)
        press(tab, swaps)
        tab.wait_for(f"document.getElementById('page').dataset.version !== {kept!r}", 30)
        assert name in text_of(tab, ".news")
        assert text_of(tab, "#passage-name") == name

        press(tab, "#hear")
        tab.wait_for("document.getElementById('hear').dataset.firstSound", 30)
        place = "document.getElementById('light-wide').getAttribute('transform')"
        before = tab.run(place)
        tab.wait_for(f"{place} !== {before!r}")
        hand = "document.querySelector('.figure .hand').getAttribute('transform')"
        tab.wait_for(f"window.hand === undefined ? (window.hand = {hand}, false) : {hand} !== hand")
        press(tab, "#hear")

        tab.open(f"{desk.base}/r/harbour/session")
        press(tab, "[value=quick]")
        tab.wait_for("document.querySelector('#state progress')")
        tab.wait_for("document.querySelector('video')?.readyState >= 1", 240)
        routine = Shelf(tmp_path / "new studio").open("harbour").routine
        seconds = float(tab.run("document.querySelector('video').duration"))
        assert seconds == pytest.approx(float(routine.clock.total_seconds), abs=1.0)
        told = cost_of(3, quick=True)  # as it was told before it was made
        made = tmp_path / "new studio" / "routines" / "harbour" / QUICK
        film = (made / "session.mp4").stat().st_size / 1e6
        rest = sum(p.stat().st_size for p in made.rglob("*") if p.is_file()) / 1e6 - film
        assert film == pytest.approx(told.film, rel=0.5, abs=1)
        assert rest == pytest.approx(told.rest, rel=0.5)
        page = tab.run("fetch(document.querySelector('.made-page').src).then((r) => r.text())")
        assert "Harbour" in page
        tab.open(str(tab.run("document.querySelector('a[href*=follow]').href")))
        tab.wait_for("document.getElementById('media')?.readyState >= 1", 20)
        tab.run("document.getElementById('home-after').click()")
        tab.wait_for("document.getElementById('now-name').textContent !== ''")
        tab.open(f"{desk.base}/r/harbour/")
        press(tab, "#hear")
        tab.wait_for("document.getElementById('hear').dataset.firstSound", 30)
        assert text_of(tab, "#quick") == ""  # the finished sound, no longer the quick one


def test_everything_can_be_done_by_keyboard(tab: Tab, desk: DeskClient) -> None:
    """A new routine, a passage chosen and changed, taken back, heard: no pointer is touched."""
    tab.open(f"{desk.base}/")
    tab_to(tab, "e.name === 'title'")
    tab.type("Keys only")
    tab_to(tab, "e.name === 'minutes'")
    tab.run("document.activeElement.select()")
    tab.type("4")
    tab_to(tab, "e.matches('.pick > summary')")
    tab.press("Enter")
    tab_to(tab, "e.name === 'spare' && e.value === 'thumb'")
    tab.press(" ")
    tab.press("Escape")
    assert tab.run("document.activeElement.matches('.pick > summary')")
    assert "thumb" in text_of(tab, ".pick .picked")
    tab_to(tab, "e.matches('.do button')")
    tab.press("Enter")
    tab.wait_for("location.pathname === '/r/keys-only/' && document.getElementById('page')", 60)

    tab.wait_for(READY)
    tab_to(tab, "e.id === 'page'")
    first = chosen(tab)
    tab.press("ArrowRight")
    tab.wait_for(f"document.getElementById('page').dataset.chosen !== {first!r}")
    assert tab.run("document.activeElement.id") == "page"
    before = version(tab)
    tab_to(tab, "e.name === 'what' && e.value === 'keep'")
    tab.press("Enter")
    tab.wait_for(f"document.getElementById('page').dataset.version !== {before!r}", 30)
    tab.run("document.getElementById('main').focus()")
    tab_to(tab, "e.id === 'back'")
    tab.press("Enter")
    tab.wait_for(f"document.getElementById('page').dataset.version === {before!r}")
    tab.run("document.body.focus()")
    tab_to(tab, "e.id === 'page'")
    tab.press(" ")
    tab.wait_for("document.getElementById('hear').dataset.firstSound", 30)
    tab.press(" ")
    tab.wait_for("document.getElementById('hear').getAttribute('aria-pressed') === 'false'")


@pytest.mark.parametrize("leaf", LEAVES)
def test_what_has_the_focus_can_be_seen(tab: Tab, desk: DeskClient, leaf: str) -> None:
    tab.open(f"{desk.base}/r/lamplight/{leaf}")
    for _ in range(25):
        tab.press("Tab")
        is_seen = tab.run(
            "((e) => { if (!e || e === document.body) return true; "
            "const o = getComputedStyle(e.closest('.file') || e); "
            "return o.outlineStyle !== 'none' && parseFloat(o.outlineWidth) >= 2; })"
            "(document.activeElement)"
        )
        assert is_seen, tab.run("document.activeElement.outerHTML.slice(0, 200)")


@pytest.mark.parametrize("leaf", ["/", *(f"/r/lamplight/{leaf}" for leaf in LEAVES)])
@pytest.mark.parametrize("width", [1280, 320])
def test_no_leaf_keeps_anybody_out(tab: Tab, desk: DeskClient, leaf: str, width: int) -> None:
    """axe-core (npm registry) against WCAG 2.2 A and AA: not one violation."""
    if not AXE.is_file():
        pytest.skip("axe-core is not here: run bin/axe, which needs the npm registry or PyPI")
    tab.open(f"{desk.base}{leaf}", width, 800)
    tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert barriers(tab) == []


@pytest.mark.parametrize("leaf", ["/", *(f"/r/lamplight/{leaf}" for leaf in LEAVES)])
def test_at_320_pixels_nothing_scrolls_sideways_and_all_can_be_hit(
    tab: Tab, desk: DeskClient, leaf: str
) -> None:
    """WCAG 2.2: 1.4.10 Reflow (320 CSS px, as 1280 at 400 %), 2.5.8 Target Size (24 px)."""
    tab.open(f"{desk.base}{leaf}", 320, 640)
    tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert tab.run("document.documentElement.scrollWidth <= window.innerWidth")
    small = tab.run(
        "[...document.querySelectorAll('a, button, input, select, summary')].filter((e) => { "
        "const b = (e.closest('label') || e).getBoundingClientRect(); "
        "const inline = e.matches('p a, li a:only-child'); "
        "return e.getClientRects().length && e.type !== 'hidden' && !e.matches('.skip') && !inline "
        "&& (b.width < 24 || b.height < 24); }).map((e) => e.outerHTML.slice(0, 120))"
    )
    assert small == []


@pytest.mark.parametrize("leaf", ["/", "/r/lamplight/brief"])
def test_lists_that_are_opened_in_the_sentence_stay_in_the_window(
    tab: Tab, desk: DeskClient, leaf: str
) -> None:
    """All at once, as a script opens them; their boxes are 24 px, however long what they say."""
    for width in (320, 660, 800, 1000, 1280):
        tab.open(f"{desk.base}{leaf}", width, 800)
        tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
        root = "document.documentElement"
        assert tab.run(f"{root}.scrollWidth <= {root}.clientWidth"), width
        out = tab.run(
            "[...document.querySelectorAll('.pick fieldset')].map((list) => "
            "list.getBoundingClientRect()).filter((b) => !b.width || b.left < 0 "
            f"|| b.right > {root}.clientWidth).length"
        )
        assert out == 0, width
        least = tab.run(
            "Math.min(...[...document.querySelectorAll('.pick [type=checkbox]')].map((box) => "
            "box.getBoundingClientRect().width))"
        )
        assert least >= 24, width


@pytest.mark.parametrize("width", [390, 1280])
def test_a_word_that_is_pressed_in_a_list_ticks_its_box(
    tab: Tab, desk: DeskClient, width: int
) -> None:
    """Pressed as a pointer does, not by a script. The list once closed under the finger, and
    Chromium 156 ended the tab there."""
    tab.open(f"{desk.base}/", width)
    tab.wait_for("document.querySelector('.pick')")
    for number in range(int(tab.run("document.querySelectorAll('.pick').length"))):
        spot = f"document.querySelectorAll('.pick')[{number}]"
        tab.run(f"for (let d = {spot}; d; d = d.parentElement.closest('details')) d.open = true")
        tab.run(f"{spot}.scrollIntoView({{block: 'center'}})")
        place = tab.run(
            f"(r => [r.x + r.width / 2, r.y + r.height / 2])"
            f"({spot}.querySelector('fieldset label span').getBoundingClientRect())"
        )
        was = tab.run(f"{spot}.querySelector('input').checked")
        tab.tap(*place)
        assert tab.run(f"{spot}.querySelector('input').checked") is not was
        tab.run(f"{spot}.open = false")


def test_begin_a_new_one_leads_into_the_sentence(tab: Tab, desk: DeskClient) -> None:
    tab.open(f"{desk.base}/", 1280)
    tab.wait_for("document.querySelector('.pick')")
    tab.run("[...document.querySelectorAll('a')].find(a => a.hash === '#titled').click()")
    tab.wait_for("document.activeElement.name === 'title'")


def test_a_passage_that_is_pressed_on_a_narrow_page_leads_to_its_leaf(
    tab: Tab, desk: DeskClient
) -> None:
    tab.open(f"{desk.base}/r/lamplight/", 390)
    tab.wait_for(READY)
    tab.run("window.scrollTo(0, 0)")
    place = tab.run(
        "(() => { for (let y = 100; y < 700; y += 4) for (let x = 60; x < 340; x += 20) {"
        " const found = document.elementFromPoint(x, y)?.closest('#page .passage');"
        " if (found && !found.classList.contains('chosen')) return [x, y]; } })()"
    )
    tab.tap(*place)
    tab.wait_for("Math.abs(document.querySelector('.leaf.right').getBoundingClientRect().top) < 80")


def test_a_narrow_page_can_be_read_and_changed(tab: Tab, desk: DeskClient) -> None:
    tab.open(f"{desk.base}/r/lamplight/", 320, 640)
    assert tab.run("getComputedStyle(document.querySelector('.drawing.slip')).display") == "block"
    assert tab.run("getComputedStyle(document.querySelector('.drawing.wide')).display") == "none"
    words = tab.run(
        "Math.min(...[...document.querySelectorAll('.page .slip text')].map((t) => "
        "t.getBoundingClientRect().height))"
    )
    assert words >= 8
    pick(tab, 1)
    before = version(tab)
    press(tab, "#edits [value=keep]")
    tab.wait_for(f"document.getElementById('page').dataset.version !== {before!r}", 30)
    press(tab, "#back")
    tab.wait_for(f"document.getElementById('page').dataset.version === {before!r}")


def test_a_damaged_film_and_track_are_told_in_a_sentence(
    tab: Tab, desk: DeskClient, tmp_path: Path
) -> None:
    for leaf, name in (("takes", "broken.mp4"), ("music", "broken.mp3")):
        path = tmp_path / name
        path.write_bytes(b"ID3\x04" + bytes(range(256)) * 40)
        tab.open(f"{desk.base}/r/lamplight/{leaf}")
        tab.give_file(".bring input", path)
        tab.wait_for("document.querySelector('.track .trouble')", 60)
        says = text_of(tab, ".track .trouble")
        assert "Traceback" not in says
        assert len(says.split()) > 5
        press(tab, ".track form[action$='/away'] button")
        tab.wait_for("!document.querySelector('.track')")


def test_a_file_of_another_kind_is_refused_at_once(
    tab: Tab, desk: DeskClient, tmp_path: Path
) -> None:
    path = tmp_path / "letter.docx"
    path.write_bytes(b"PK\x03\x04 not a film")
    tab.open(f"{desk.base}/r/lamplight/takes")
    tab.give_file(".bring input", path)
    tab.wait_for("document.querySelector('.bring .waiting').textContent.includes('film')")
    assert not tab.run("document.querySelector('.track')")


def test_two_windows_never_overwrite_each_other(tab: Tab, desk: DeskClient) -> None:
    """The window that comes second is told so, with both versions, and nothing of hers is done."""
    with browser_tab() as other:
        other.open(desk.address)
        for window in (tab, other):
            window.open(f"{desk.base}/r/lamplight/")
            pick(window, 2)
        seen = version(other)
        press(tab, "#edits [name=what]")
        tab.wait_for(f"document.getElementById('page').dataset.version !== {seen!r}", 30)
        now = version(tab)
        press(other, "#edits [value=shorten]")
        other.wait_for("document.querySelector('#main [role=alert]')", 30)
        assert "another window" in text_of(other, "#main [role=alert]")
        assert other.run("document.querySelectorAll('#main svg.drawing').length") == 2
        assert other.run("document.querySelectorAll('#main .differs').length") > 0
        tab.open(f"{desk.base}/r/lamplight/")
        assert version(tab) == now
        press(tab, "#back")
        tab.wait_for(f"document.getElementById('page').dataset.version === {seen!r}")


def test_who_prefers_stillness_gets_it(tab: Tab, desk: DeskClient) -> None:
    tab.prefer(prefers_reduced_motion="reduce")
    try:
        tab.open(f"{desk.base}/r/lamplight/")
        pick(tab, 1)
        hand = "document.querySelector('.figure .hand')?.getAttribute('transform')"
        before = tab.run(hand)
        time.sleep(1.0)
        assert tab.run(hand) == before
    finally:
        tab.prefer()
    tab.open(f"{desk.base}/r/lamplight/")
    pick(tab, 1)
    before = tab.run(hand)
    tab.wait_for(f"{hand} !== {before!r}")


def test_what_cannot_be_is_told_and_each_way_out_is_a_button(tab: Tab, desk: DeskClient) -> None:
    tab.open(f"{desk.base}/")
    choose(tab, "[name=minutes]", "5")
    tab.run("document.querySelector('.further').open = true")
    choose(tab, "[name=refrains]", "12")
    tab.wait_for("document.querySelector('#sketch .ways-out button')", 30)
    assert text_of(tab, "#sketch .reasons")
    press(tab, "#sketch .ways-out button")
    tab.wait_for("document.querySelector('#sketch .shape svg')", 30)
    assert tab.run("document.querySelector('[name=refrains]').value") != "12"


def test_a_voice_is_recorded_heard_and_taken_away(desk: DeskClient, studio: Path) -> None:
    """Chromium's own stand-in for a microphone beeps; a person is not needed."""
    with browser_tab("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream") as own:
        own.open(desk.address)
        own.open(f"{desk.base}/r/lamplight/voice")
        cues = len(Shelf(studio).open("lamplight").routine.cues)
        assert text_of(own, "#counted") == f"0 of {cues} cues are in your voice."
        press(own, ".cues li .record")
        time.sleep(2.0)
        press(own, ".cues li .record")
        own.wait_for("document.querySelector('.told').textContent.includes('Recorded')", 30)
        recorded = list((studio / "routines" / "lamplight" / "voice").glob("*.wav"))
        assert len(recorded) == 1
        assert text_of(own, "#counted") == f"1 of {cues} cues are in your voice."
        press(own, ".cues li .place")
        own.wait_for("document.querySelector('.cues li').dataset.heard", 30)
        own.open(f"{desk.base}/r/lamplight/voice")
        press(own, ".cues li form button")
        own.wait_for("!document.querySelector('.cues li form')")
        assert not recorded[0].exists()
        assert own.troubles == []


def test_a_way_out_of_a_routines_own_sentence_stays_with_it(tab: Tab, desk: DeskClient) -> None:
    tab.open(f"{desk.base}/r/lamplight/brief")
    tab.run("document.querySelector('.further').open = true")
    choose(tab, "[name=refrains]", "30")
    tab.wait_for("document.querySelector('#sketch .ways-out button')", 60)
    press(tab, "#sketch .ways-out button")
    tab.wait_for(
        "location.search.includes('loosen') && document.querySelector('[name=refrains]')", 30
    )
    assert tab.run("location.pathname") == "/r/lamplight/brief"
    assert tab.run("document.querySelector('[name=refrains]').value") != "30"


#: As if the planner took its time: the first answers about a passage do not know yet.
SLOW = """(() => {
  const real = window.fetch;
  window.slow = 0;
  window.fetch = async (...asked) => {
    const answer = await real(...asked);
    if (!answer.url.includes("?p=") || window.slow >= 10) return answer;
    window.slow += 1;
    const place = /<div id="instead"[^]*?<\\/div>/;
    const later = '<div id="instead" data-later></div>';
    const text = (await answer.text()).replace(place, later);
    const late = new Response(text, { status: answer.status });
    const [url, redirected] = [{ value: answer.url }, { value: answer.redirected }];
    return Object.defineProperties(late, { url, redirected });
  };
})()"""


def test_what_could_be_instead_comes_after_a_change_however_long_it_takes(
    tab: Tab, desk: DeskClient
) -> None:
    """It comes by itself, and where what was changed is kept so, this is said in its place."""
    tab.open(f"{desk.base}/r/lamplight/")
    is_there = "!document.querySelector('#instead[data-later]')"
    buttons = "Boolean(document.querySelector('#edits [value=lengthen]'))"
    offered = "document.querySelectorAll('.instead li').length > 0"
    for number in range(12):
        pick(tab, number)
        tab.wait_for(is_there)
        if tab.run(offered) and tab.run(buttons):
            break
    assert tab.run(offered)
    before = version(tab)
    tab.run(SLOW)
    press(tab, "#edits [value=lengthen]")
    tab.wait_for(f"document.getElementById('page').dataset.version !== {before!r}", 30)
    assert tab.run("Boolean(document.querySelector('#instead[data-later]'))")
    tab.wait_for(is_there, 40)
    assert tab.run("window.slow") == 10
    assert tab.run(offered) or "free it" in text_of(tab, "#instead")
    if tab.run("Boolean(document.querySelector('#edits [value=free]'))"):
        after = version(tab)
        press(tab, "#edits [value=free]")
        tab.wait_for(f"document.getElementById('page').dataset.version !== {after!r}", 30)
        tab.wait_for(offered, 20)
