"""Nothing of hers is lost while work ends behind her back, or when the desk is no more there."""

from __future__ import annotations

import os
import signal
import subprocess
import time
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from chromium import Tab, browser_tab, find_chromium
from desk_browser import choose, press, text_of
from desk_client import DeskClient, running_desk, studio_with_demo

pytestmark = pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[DeskClient]:
    with running_desk(studio_with_demo(tmp_path)) as client:
        yield client


@pytest.fixture
def tab(desk: DeskClient) -> Iterator[Tab]:
    with browser_tab(
        "--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"
    ) as found:
        found.open(desk.address)
        yield found


def end(desk: DeskClient) -> None:
    desk.process.terminate()
    desk.process.wait(20)


def uncaught(tab: Tab) -> list[str]:
    """Errors of ours; the browser's own lines about what it could not load are none."""
    return [t for t in tab.troubles if "ERR_CONNECTION" not in t and "403" not in t]


def clicks(path: Path) -> Path:
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(16000)
        for n in range(20 * 2):
            loud = b"\xff\x3f" * 200 if n % 2 == 0 else b"\x00\x10" * 200
            out.writeframes(loud + b"\x00\x00" * 7800)
    return path


def worker_of(desk: DeskClient) -> int:
    """Return the process that works for the desk, once there is one."""
    asked = ["pgrep", "-P", str(desk.process.pid), "-f", "rondel.desk.worker"]
    for _ in range(3000):
        found = subprocess.run(asked, capture_output=True, text=True, check=False).stdout.split()
        if found:
            return int(found[0])
        time.sleep(0.01)
    raise AssertionError("nothing works for the desk")


@contextmanager
def held_up(desk: DeskClient) -> Iterator[None]:
    """Let what works for the desk stand still meanwhile: on a quick machine it ends unseen."""
    worker = worker_of(desk)
    os.killpg(worker, signal.SIGSTOP)
    try:
        yield
    finally:
        os.killpg(worker, signal.SIGCONT)


def test_work_that_ends_reloads_nothing(tab: Tab, desk: DeskClient, tmp_path: Path) -> None:
    tab.open(f"{desk.base}/r/lamplight/music")
    tab.run("(window.stays = 'yes', document.querySelector('[name=bpm]').value = '71')")
    tab.give_file(".bring input", clicks(tmp_path / "clicks.wav"))
    with held_up(desk):
        tab.wait_for("document.querySelector('article .working')", 30)
    tab.wait_for("!document.querySelector('article .working')", 60)
    assert tab.run("window.stays") == "yes"
    assert tab.run("document.querySelector('[name=bpm]').value") == "71"
    assert tab.run("Boolean(document.querySelector('article audio, article .trouble'))")
    tab.wait_for("document.getElementById('told').textContent.includes('clicks.wav')")
    assert uncaught(tab) == []


def test_what_came_as_it_is_now_is_not_taken_for_hers(
    tab: Tab, desk: DeskClient, tmp_path: Path
) -> None:
    """A slider that came with 4.0 says 4; that is nothing she has changed."""
    tab.open(f"{desk.base}/r/lamplight/music")
    tab.give_file(".bring input", clicks(tmp_path / "clicks.wav"))
    tab.wait_for("document.querySelector('article .drag')", 60)
    is_hers = (
        "import(document.querySelector('script[src*=\"bring.js\"]').src.replace('bring', 'fields'))"
        ".then((fields) => fields.isHers(document.querySelector('article.track')))"
    )
    assert tab.run(is_hers) is False
    said = "[document.querySelector('article .drag')].map((d) => [d.defaultValue, d.value])[0]"
    assert tab.run(said) == ["4.0", "4"]
    tab.run("(document.querySelector('article .drag').value = '3', true)")
    assert tab.run(is_hers) is True


def test_what_she_is_in_the_midst_of_waits_for_her(
    tab: Tab, desk: DeskClient, tmp_path: Path
) -> None:
    tab.open(f"{desk.base}/r/lamplight/music")
    tab.give_file(".bring input", clicks(tmp_path / "clicks.wav"))
    with held_up(desk):
        tab.wait_for("document.querySelector('article .working button')", 30)
        tab.run("(document.querySelector('article .working button').focus(), true)")
    tab.wait_for("document.querySelector('article .offer')", 60)
    assert tab.run("document.activeElement.matches('article .working button')")
    press(tab, "article .offer")
    tab.wait_for("!document.querySelector('article .working')", 30)
    assert uncaught(tab) == []


def test_a_silent_desk_is_told_in_words_at_every_press(tab: Tab, desk: DeskClient) -> None:
    says = "document.getElementById('no-answer')?.textContent.includes('does not answer')"
    hidden = "document.getElementById('no-answer').hidden = true"
    leaf = f"{desk.base}/r/lamplight/"
    tab.open(f"{leaf}voice")
    press(tab, ".cues li .record")
    time.sleep(1.5)
    end(desk)
    press(tab, ".cues li .record")
    tab.wait_for("document.querySelector('.cues li .again')")
    assert tab.run(says)
    assert "waits here" in text_of(tab, ".cues li .told")
    tab.run(hidden)
    press(tab, ".leaves a")  # no page of the browser's own in its place
    tab.wait_for(f"{says} && !document.getElementById('no-answer').hidden")
    assert tab.run("location.pathname") == "/r/lamplight/voice"
    assert uncaught(tab) == []


def test_the_open_book_and_the_sentence_tell_it_too(tab: Tab, desk: DeskClient) -> None:
    shown = "document.getElementById('no-answer')?.hidden === false"
    with browser_tab() as other:
        other.open(f"{desk.address}")
        other.wait_for("document.querySelector('[name=minutes]')")
        tab.open(f"{desk.base}/r/lamplight/")
        tab.wait_for("document.documentElement.dataset.ready === 'yes'")
        end(desk)
        for does in ("#edits button", "#page .passage:nth-of-type(3)", "#hear"):
            tab.run("(document.getElementById('no-answer').hidden = true)")
            if does == "#edits button":
                press(tab, does)
            else:
                tab.run(
                    f"(document.querySelector({does!r})"
                    ".dispatchEvent(new MouseEvent('click', {bubbles: true})), true)"
                )
            tab.wait_for(shown)
        assert text_of(tab, "#edits .waiting") == ""
        choose(other, "[name=minutes]", "17")
        other.wait_for(shown)
        press(other, "#brief .do button")
        assert other.run("document.querySelector('[name=minutes]').value") == "17"
        assert uncaught(tab) == uncaught(other) == []
