"""A brief's sentence: a number that will not do is told once, beside it; wishes are in sight."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from chromium import Tab, browser_tab, find_chromium
from desk_browser import AXE, barriers, choose, press, text_of
from desk_client import DeskClient, running_desk, studio_with_demo
from desk_window import Answer, DeskWindow
from rondel.desk.sentence_view import BOUNDS, WHOLES
from rondel.model.codec.brief import brief_from_dict
from rondel.model.errors import BadInput

NEEDS_BROWSER = pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")
FORM = {"title": "Harbour", "minutes": "15", "intention": "settle", "level": "2"}
BRIEF = {"title": "Harbour", "minutes": 120, "intention": "settle", "level": 2}


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return studio_with_demo(tmp_path_factory.mktemp("sentence"))


@pytest.fixture(scope="module")
def window(studio: Path) -> DeskWindow:
    return DeskWindow(studio)


def field_of(answer: Answer, name: str) -> str:
    found = re.search(rf'<input [^>]*name="{name}"[^>]*>', answer.text)
    assert found
    return found[0]


def beside(answer: Answer, name: str) -> str:
    found = re.search(rf'<span class="refused" id="why-{name}">([^<]*)</span>', answer.text)
    assert found
    return found[1]


def is_unfolded(answer: Answer) -> bool:
    return '<details class="further" open>' in answer.text


# ------------------------------------------------------------------ a number that will not do
@pytest.mark.parametrize("name", BOUNDS)
def test_what_is_said_of_bounds_is_what_the_brief_is_read_with(name: str) -> None:
    """The desk says of its own what may stand in a field: it has to be what is read."""
    low, high = BOUNDS[name]
    for at_edge in (low, high):
        brief_from_dict({**BRIEF, name: at_edge})
    beyond: list[float] = [low - 1] if name in ("seed", "open_minutes") else [low - 1, high + 1]
    beyond += [low + 0.5] if name in WHOLES else []
    for value in beyond:
        with pytest.raises(BadInput, match=name):
            brief_from_dict({**BRIEF, name: value})


@pytest.mark.parametrize("path", ["/new", "/r/lamplight/brief"])
@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("minutes", "0"),
        ("minutes", "2,9"),
        ("minutes", "121"),
        ("minutes", "many"),
        ("refrains", "2.5"),
        ("refrains", "0"),
        ("refrains", "61"),
        ("open_minutes", "-1"),
        ("open_minutes", "15"),
        ("bpm", "20"),
        ("seed", "1.5"),
    ],
)
def test_a_wrong_number_is_told_once_beside_its_field(
    window: DeskWindow, path: str, name: str, word: str
) -> None:
    """WCAG 2.2, 3.3.1: what is wrong is named in words, and where; what she typed stays there."""
    version = window.get("/r/lamplight/brief").value("version")
    answer = window.post(path, {**FORM, name: word, "version": version})
    assert answer.status == 422
    says = beside(answer, name)
    assert f"“{word}”" in says
    assert ": write " in says  # what to do
    assert says.endswith(".")
    assert answer.text.count(says) == 1
    assert 'class="trouble"' not in answer.text.split("<footer")[0]
    field = field_of(answer, name)
    assert f'value="{word}"' in field
    assert ' aria-invalid="true" autofocus aria-describedby="why-' + name in field
    assert answer.text.count("aria-invalid") == answer.text.count("autofocus>") + 1
    assert 'id="titled" name="title" value="Harbour"' in answer.text
    assert is_unfolded(answer) or name == "minutes"


def test_no_minutes_at_all_are_asked_for(window: DeskWindow) -> None:
    answer = window.post("/new", {**FORM, "minutes": ""})
    says = "Write how many minutes the routine is to last: a number from 3 to 120."
    assert (answer.status, beside(answer, "minutes")) == (422, says)


def test_only_the_first_of_several_gets_the_focus(window: DeskWindow) -> None:
    answer = window.post("/new", {**FORM, "minutes": "0", "bpm": "0"})
    assert "autofocus" in field_of(answer, "minutes")
    assert "autofocus" not in field_of(answer, "bpm")
    assert 'aria-invalid="true"' in field_of(answer, "bpm")


def test_wishes_without_a_field_stay_when_a_number_is_wrong(window: DeskWindow) -> None:
    kept = '{"character": "sleep"}'
    answer = window.post("/new", {**FORM, "minutes": "0", "more": kept})
    assert answer.value("more") == kept.replace('"', "&#34;") or answer.value("more") == kept


def test_numbers_come_with_a_comma_at_a_german_desk(studio: Path) -> None:
    window = DeskWindow(studio)
    window.cookie += "; rondel-language=de"
    asked = "/?minutes=15,5&intention=settle&level=2&refrains=4"
    answer = window.get(asked)
    assert answer.status == 200
    assert 'value="15,5"' in field_of(answer, "minutes")
    answer = window.get(asked.replace("15,5", "0"))
    says = "Eine Routine dauert 3 bis 120 Minuten: Schreib eine solche Zahl anstelle von „0“."
    assert (answer.status, beside(answer, "minutes")) == (422, says)


@pytest.mark.parametrize("word", ["<b>", "\u202e12", "9" * 3000, "\x00"])
def test_whatever_is_typed_is_only_shown(window: DeskWindow, word: str) -> None:
    answer = window.post("/new", {**FORM, "minutes": word})
    assert answer.status == 422
    assert "<b>" not in answer.text
    assert "\u202e" not in answer.text
    assert len(beside(answer, "minutes")) < 160


# ------------------------------------------------------------------ wishes stay in sight
@pytest.mark.parametrize(
    ("more", "is_open"),
    [
        ({}, False),
        ({"names": "plain", "stretch": "yes", "seed": "1", "open_minutes": "0"}, False),
        ({"refrains": "6"}, True),
        ({"positions": "supine"}, True),
        ({"open_minutes": "0.5"}, True),
        ({"bpm": "70"}, True),
        ({"stretch": "no"}, True),
        ({"trained": "yes"}, True),
        ({"names": "both"}, True),
        ({"language": "de"}, True),
        ({"seed": "2"}, True),
    ],
)
def test_the_fold_is_open_where_something_in_it_was_wished(
    window: DeskWindow, more: dict[str, str], is_open: bool
) -> None:
    form = {**FORM, "track": "away.mp3", **more}  # a track: nothing is planned for this test
    answer = window.post("/new", form)
    assert answer.status == 422
    assert is_unfolded(answer) is is_open


def test_what_cannot_be_had_at_once_leaves_the_fold_open(window: DeskWindow) -> None:
    """As a newcomer asked: three minutes in which the refrain returns six times."""
    answer = window.post("/new", {**FORM, "minutes": "3", "refrains": "6"})
    assert answer.status == 422
    assert is_unfolded(answer)
    assert 'value="6"' in field_of(answer, "refrains")
    assert "Let the refrain return" in answer.words  # fewer returns are among what would do


def test_why_not_is_told_however_long_it_takes(
    window: DeskWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A slow machine once showed the sentence again, and not a word of why."""
    monkeypatch.setattr("rondel.desk.leaves.start.SOON_SECONDS", 0.0)
    answer = window.post("/new", {**FORM, "minutes": "3", "refrains": "7"})
    assert answer.status == 422
    assert "This cannot all be had at once" in answer.words


def test_the_sentence_of_a_usual_routine_is_folded(window: DeskWindow) -> None:
    assert not is_unfolded(window.get("/"))
    asked = {**FORM, "title": "Plain", "minutes": "4"}
    slug = window.post("/new", asked).headers["location"]
    assert not is_unfolded(window.get(f"{slug}brief"))


# ------------------------------------------------------------------ in a browser
@pytest.fixture(scope="module")
def desk(studio: Path) -> Iterator[DeskClient]:
    with running_desk(studio) as client:
        yield client


@pytest.fixture(scope="module")
def tab(desk: DeskClient) -> Iterator[Tab]:
    with browser_tab() as found:
        found.open(desk.address)
        yield found


@NEEDS_BROWSER
@pytest.mark.parametrize(("width", "height"), [(1280, 800), (320, 800), (320, 900)])
def test_a_wrong_number_is_told_while_she_types_and_when_she_goes_on(
    tab: Tab, desk: DeskClient, width: int, height: int
) -> None:
    tab.open(f"{desk.base}/", width, height)
    choose(tab, "[name=minutes]", "0")
    why = "document.getElementById('why-minutes').textContent"
    tab.wait_for(f"{why} !== ''")
    says = text_of(tab, "#why-minutes")
    assert says == text_of(tab, "#wrong")  # the live region that reads it out
    assert tab.run("document.querySelector('[name=minutes]').getAttribute('aria-invalid')")
    assert tab.run("document.querySelectorAll('#sketch .trouble').length") == 0
    choose(tab, "[name=minutes]", "4")
    tab.wait_for(f"{why} === ''")
    assert not tab.run("document.querySelector('[aria-invalid]')")

    choose(tab, "[name=minutes]", "0")
    press(tab, "#brief .do button")
    tab.wait_for("document.activeElement.name === 'minutes' && location.pathname === '/new'")
    assert text_of(tab, "#why-minutes") == says
    nodes = tab.call("Accessibility.getFullAXTree")["nodes"]
    told = [
        n["description"]["value"]
        for n in nodes
        if n.get("description", {}).get("value") and n.get("role", {}).get("value") == "textbox"
    ]
    assert says in told  # the field is described by it
    assert tab.run("document.documentElement.scrollWidth <= window.innerWidth")
    in_view = "(b => b.top >= 0 && b.bottom <= innerHeight)"
    tab.wait_for(f"{in_view}(document.getElementById('why-minutes').getBoundingClientRect())")
    if AXE.is_file():
        assert barriers(tab) == []
