"""The follow-along page in a real browser: opened from disk, played, tapped, and by keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest

from chromium import Tab, browser_tab, find_chromium
from cue_routines import lot_routine
from rondel.adapters.atomic import write_text
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.follow_files import follow_template
from rondel.adapters.voice import BundledVoice
from rondel.app.make_follow import make_follow
from rondel.app.progress import Silent
from rondel.app.speak_cues import speak_cues
from rondel.cues.wording import word_cues
from rondel.drawing.page import draw_page, draw_slip
from rondel.model.routine import Routine

pytestmark = pytest.mark.skipif(
    find_chromium() is None,
    reason="no Chromium on this machine (Debian: apt-get install chromium, as root)",
)

NOW = "document.getElementById('media').currentTime"
LIGHT = "document.getElementById('light').transform.baseVal[0].matrix"


def short_routine() -> Routine:
    routine = lot_routine(6, 3.0)
    return replace(routine, cues=word_cues(routine, builtin_craft())[:3])


def write_session(folder: Path, routine: Routine) -> None:
    """Write a session with a small moving picture and a soft tone, as long as the routine."""
    craft = builtin_craft()
    speech = speak_cues(routine, None, BundledVoice(), Silent())
    make_follow(routine, craft, speech, folder, follow_template, write_text)
    seconds = int(routine.clock.total_seconds) + 1
    with av.open(str(folder / "session.mp4"), "w", options={"movflags": "faststart"}) as out:
        film = out.add_stream("libx264", rate=Fraction(5), options={"preset": "ultrafast"})
        film.width, film.height, film.pix_fmt = 64, 36, "yuv420p"
        sound = out.add_stream("aac", rate=8000, layout="mono")
        for n in range(seconds * 5):
            picture = av.VideoFrame.from_ndarray(
                np.full((36, 64, 3), n % 250, np.uint8), format="rgb24"
            )
            picture.pts = n
            out.mux(film.encode(picture))
        tone = 0.05 * np.sin(2 * np.pi * 220 * np.arange(8000) / 8000, dtype=np.float32)
        for n in range(seconds):
            part = av.AudioFrame.from_ndarray(tone[None, :], format="fltp", layout="mono")
            part.sample_rate, part.pts = 8000, n * 8000
            out.mux(sound.encode(part))
        out.mux(film.encode())
        out.mux(sound.encode())


@pytest.fixture(scope="module")
def session(tmp_path_factory: pytest.TempPathFactory) -> tuple[Routine, str]:
    folder = tmp_path_factory.mktemp("session")
    routine = short_routine()
    write_session(folder, routine)
    return routine, (folder / "follow" / "index.html").as_uri()


@pytest.fixture(scope="module")
def shared_tab() -> Iterator[Tab]:
    with browser_tab() as tab:
        yield tab


@pytest.fixture
def tab(shared_tab: Tab, session: tuple[Routine, str]) -> Iterator[Tab]:
    shared_tab.troubles.clear()
    shared_tab.asked.clear()
    shared_tab.open(session[1])
    shared_tab.wait_for("document.getElementById('media').readyState >= 1")
    yield shared_tab
    shared_tab.run("document.getElementById('media').pause()")
    assert shared_tab.run("document.getElementById('trouble').hidden") is True
    assert shared_tab.troubles == []
    assert all(a.startswith(("file:", "data:", "about:")) for a in shared_tab.asked)


def light_in(tab: Tab) -> tuple[float, float, float]:
    """Return (second, x, y), read in one breath."""
    second, x, y = tab.run(f"[{NOW}, {LIGHT}.e, {LIGHT}.f]")
    return second, x, y


def seek(tab: Tab, second: float) -> None:
    tab.run(f"document.getElementById('media').currentTime = {second}")
    tab.wait_for(f"!document.getElementById('media').seeking && {NOW} >= {second - 0.1}")


def test_the_light_stands_where_the_session_is(tab: Tab, session: tuple[Routine, str]) -> None:
    routine, _ = session
    page = draw_page(routine, builtin_craft())
    total = routine.clock.total_seconds
    for share in (0.02, 0.25, 0.5, 0.77, 0.98):
        seek(tab, round(total * share, 2))
        second, x, y = light_in(tab)
        right_x, right_y = page.point_at(second)
        assert (x, y) == pytest.approx((right_x, right_y), abs=0.05)


def test_while_it_plays_the_light_keeps_up(tab: Tab, session: tuple[Routine, str]) -> None:
    routine, _ = session
    page = draw_page(routine, builtin_craft())
    seek(tab, 20)
    tab.run("document.querySelector('#before > summary').click()")
    assert tab.run("document.getElementById('before').open") is True
    tab.run("document.getElementById('hear').click()")
    tab.wait_for(f"{NOW} > 21")
    script = (
        "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => "
        f"done([{NOW}, {LIGHT}.e, {LIGHT}.f]))))"
    )
    per_second = (page.lines[0].right - page.lines[0].left) / (
        page.lines[0].end - page.lines[0].start
    )
    for _ in range(6):
        second, x, y = tab.run(script)
        right_x, right_y = page.point_at(second)
        # Within a fifth of a second of the session: the light may be one slow picture behind.
        assert abs(x - right_x) <= 0.2 * per_second
        assert y == pytest.approx(right_y, abs=0.05)
    assert tab.run("document.getElementById('hear').textContent") == "hold"
    assert tab.run("document.getElementById('before').open") is False


def test_the_refrain_buttons_land_where_refrains_begin(
    tab: Tab, session: tuple[Routine, str]
) -> None:
    routine, _ = session
    starts = [float(routine.start_seconds(r[0])) for r in routine.refrains]
    assert len(starts) >= 2
    seek(tab, 0)
    for start in starts:
        tab.run("document.getElementById('home-after').click()")
        tab.wait_for(f"Math.abs({NOW} - {start}) < 0.05")
        tab.wait_for("!document.getElementById('media').seeking")
    closed = "document.getElementById('home-after').getAttribute('aria-disabled')"
    tab.wait_for(f"{closed} === 'true'")
    for start in starts[-2::-1]:
        tab.run("document.getElementById('home-before').click()")
        tab.wait_for(f"Math.abs({NOW} - {start}) < 0.05")
        tab.wait_for("!document.getElementById('media').seeking")


def test_a_tap_on_a_passage_goes_to_its_start(tab: Tab, session: tuple[Routine, str]) -> None:
    routine, _ = session
    n = 2
    box = tab.run(
        f"(() => {{ const r = document.querySelector('#taps [data-n=\"{n}\"]');"
        "r.scrollIntoView({block: 'center'}); const b = r.getBoundingClientRect();"
        "return [b.left + b.width / 2, b.top + b.height / 2] })()"
    )
    tab.tap(*box)
    tab.wait_for(f"Math.abs({NOW} - {routine.start_seconds(routine.line[n])}) < 0.05")
    name = builtin_craft().technique(routine.line[n].technique or "").plain
    assert tab.run("document.getElementById('now-name').textContent") == name


def test_it_works_by_keyboard_alone(tab: Tab, session: tuple[Routine, str]) -> None:
    routine, _ = session
    paused = "document.getElementById('media').paused"
    tab.press(" ")
    tab.wait_for(f"!{paused}")
    tab.press(" ")
    tab.wait_for(paused)
    seek(tab, 0)
    tab.press("ArrowRight")
    second = float(routine.start_seconds(routine.line[1]))
    tab.wait_for(f"Math.abs({NOW} - {second}) < 0.05 && !document.getElementById('media').seeking")
    home = float(routine.start_seconds(routine.refrains[0][0]))
    tab.press("End")
    tab.wait_for(f"Math.abs({NOW} - {home}) < 0.05 && !document.getElementById('media').seeking")
    # With the focus on a button, the space bar presses that button and nothing else.
    tab.run("document.getElementById('words').focus()")
    tab.press(" ")
    shown = "document.getElementById('words').getAttribute('aria-pressed')"
    tab.wait_for(f"{shown} === 'false'")
    assert tab.run(paused) is True
    reached = []
    for _ in range(12):
        tab.press("Tab")
        reached.append(tab.run("document.activeElement.id || document.activeElement.tagName"))
    assert reached.count("BUTTON") >= 5  # passages, in the list of the page in words


def test_captions_are_shown_while_words_are_spoken(tab: Tab, session: tuple[Routine, str]) -> None:
    routine, _ = session
    cue = routine.cues[0]
    seek(tab, float(routine.clock.seconds_at(cue.at_beat)) + 0.3)
    shown = tab.run("document.getElementById('caption').textContent")
    assert shown
    assert cue.say.startswith(shown.replace("\n", " "))


def test_a_change_of_passage_is_told_to_those_who_listen(
    tab: Tab, session: tuple[Routine, str]
) -> None:
    routine, _ = session
    assert tab.run("document.getElementById('said').getAttribute('aria-live')") == "polite"
    seek(tab, float(routine.start_seconds(routine.line[2])) + 1)
    name = builtin_craft().technique(routine.line[2].technique or "").plain
    assert name in tab.run("document.getElementById('said').textContent")
    for where in ("said", "now-name", "now-next"):  # a name is told in its own language
        assert tab.run(f"document.querySelector('#{where} span').lang") == "en"


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_nothing_is_cut_at_the_side_and_targets_are_large_enough(
    tab: Tab, session: tuple[Routine, str], width: int
) -> None:
    tab.open(session[1], width=width, height=740)
    assert tab.run("document.documentElement.scrollWidth") <= width
    small = tab.run(
        "[...document.querySelectorAll('button, summary')].filter(b => b.offsetParent)"
        ".map(b => [b.textContent.trim().slice(0, 30), b.getBoundingClientRect()])"
        ".filter(([_, r]) => r.width < 44 || r.height < 44).map(([t, r]) => [t, r.width, r.height])"
    )
    assert small == []
    rows = tab.run(
        "[...document.querySelectorAll('#passages button')].map(b => b.getBoundingClientRect())"
        ".map(r => [r.top, r.bottom])"
    )
    for one, after in pairwise(rows):
        assert after[0] >= one[1] - 0.5


#: Every element that scrolls by itself, on either way.
SCROLLERS = """[...document.querySelectorAll('*')].filter(e => {
  const style = getComputedStyle(e);
  return e.offsetParent && ((/auto|scroll/.test(style.overflowY) && e.scrollHeight > e.clientHeight)
    || (/auto|scroll/.test(style.overflowX) && e.scrollWidth > e.clientWidth)) })
  .map(e => e.id || e.className)"""


@pytest.mark.parametrize(
    ("width", "height"), [(320, 640), (390, 844), (768, 1024), (1280, 720), (1280, 900)]
)
def test_only_the_window_scrolls_and_the_film_comes_first(
    tab: Tab, session: tuple[Routine, str], width: int, height: int
) -> None:
    tab.open(session[1], width=width, height=height)
    tab.wait_for("document.getElementById('media').readyState >= 1")
    assert tab.run(SCROLLERS) == []
    # Consent is read in full, and the film begins in the upper two fifths of the window.
    consent = "document.querySelector('#before > summary').getBoundingClientRect()"
    assert tab.run(f"{consent}.bottom - {consent}.top") >= 40
    assert tab.run("document.getElementById('media').getBoundingClientRect().top") < 0.4 * height
    shown = [name for name in ("light", "slip-light") if tab.run(f"{seen(name)} > 0")]
    assert shown == ["slip-light" if width <= 704 else "light"]


def seen(name: str) -> str:
    return f"document.getElementById('{name}').getClientRects().length"


def test_names_on_a_telephone_are_large_enough_to_read(
    tab: Tab, session: tuple[Routine, str]
) -> None:
    tab.open(session[1], width=390, height=844)
    heights = tab.run(
        "[...document.querySelectorAll('.slip .passages text')].map(t => "
        "parseFloat(t.getAttribute('font-size')) * t.getScreenCTM().d)"
    )
    assert len(heights) >= 5
    assert min(heights) >= 10  # pixels; the name itself stands at more than 12
    assert max(heights) >= 12


def test_on_a_telephone_the_light_keeps_up_and_never_takes_the_film_away(
    tab: Tab, session: tuple[Routine, str]
) -> None:
    routine, _ = session
    tab.open(session[1], width=390, height=844)
    tab.wait_for("document.getElementById('media').readyState >= 1")
    slip = draw_slip(routine, builtin_craft())
    total = float(routine.clock.total_seconds)
    seek(tab, round(total * 0.6, 2))
    matrix = LIGHT.replace("light", "slip-light")
    second, x, y = tab.run(f"[{NOW}, {matrix}.e, {matrix}.f]")
    assert (x, y) == pytest.approx(slip.point_at(second), abs=0.05)
    assert tab.run("window.scrollY") == 0
    # Who has gone on to the drawing is taken along.
    tab.run("document.getElementById('sheet').scrollIntoView()")
    tab.run("new Promise(done => setTimeout(done, 1100))")
    seek(tab, total - 1)
    tab.wait_for(
        "(box => box.top > 100 && box.bottom < 844)"
        "(document.getElementById('slip-light').getBoundingClientRect())"
    )


def test_with_reduced_motion_the_light_goes_in_whole_seconds(
    tab: Tab, session: tuple[Routine, str]
) -> None:
    routine, address = session
    page = draw_page(routine, builtin_craft())
    wish = [{"name": "prefers-reduced-motion", "value": "reduce"}]
    tab.call("Emulation.setEmulatedMedia", features=wish)
    try:
        tab.open(address)
        tab.wait_for("document.getElementById('media').readyState >= 1")
        seek(tab, 30.6)
        _, x, _ = light_in(tab)
        assert x == pytest.approx(page.point_at(30.0)[0], abs=0.05)
    finally:
        tab.call("Emulation.setEmulatedMedia", features=[])


def test_without_the_film_the_sound_is_enough_and_without_both_it_says_so(
    shared_tab: Tab, tmp_path: Path
) -> None:
    routine = short_routine()
    write_session(tmp_path, routine)
    address = (tmp_path / "follow" / "index.html").as_uri()
    with (
        av.open(str(tmp_path / "session.mp4")) as film,
        av.open(str(tmp_path / "session.m4a"), "w", format="mp4") as sound,
    ):
        track = sound.add_stream_from_template(film.streams.audio[0])
        for packet in film.demux(film.streams.audio[0]):
            if packet.dts is not None:
                packet.stream = track
                sound.mux(packet)
    (tmp_path / "session.mp4").unlink()
    shared_tab.open(address)
    shared_tab.wait_for("document.getElementById('media').readyState >= 1")
    assert shared_tab.run("document.getElementById('trouble').hidden") is True
    shared_tab.wait_for("document.getElementById('frame').classList.contains('only-sound')")
    (tmp_path / "session.m4a").unlink()
    shared_tab.open("about:blank#")
    shared_tab.open(address)
    shared_tab.wait_for("!document.getElementById('trouble').hidden")
