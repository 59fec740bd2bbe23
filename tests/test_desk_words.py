"""The desk's words in every language it offers: complete, whole, and put into the page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from chromium import browser_tab, find_chromium
from desk_browser import AXE, LEAVES, barriers, press, text_of
from desk_client import DeskClient, running_desk, studio_with_demo
from desk_window import DeskWindow
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.routine_shelf import Shelf
from rondel.desk.messages import LOCALE, messages
from rondel.desk.words import LANGUAGES, language_for, translations
from rondel.model.names import passage_name
from rondel.model.words import Language, NamesShown

OTHERS = [language for language in LANGUAGES if language != "en"]
_SLOT = re.compile(r"\{(\w+)\}")


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_is_there_in_the_other_language(language: str) -> None:
    with (LOCALE / f"{language}.po").open("rb") as file:
        told = {str(m.id): str(m.string) for m in read_po(file) if m.id}
    said = messages()
    assert len(said) > 200
    assert [m for m in said if not told.get(m)] == []
    assert [m for m in told if m not in said] == [], "bin/words takes out what is said nowhere"
    for message, words in told.items():
        assert set(_SLOT.findall(message)) == set(_SLOT.findall(words)), message
        assert "%" not in words


@pytest.mark.parametrize("language", OTHERS)
def test_the_catalogue_is_what_the_desk_reads(language: str) -> None:
    assert translations(language).gettext("Hands") not in ("", "Hands")


@pytest.mark.parametrize(
    ("asked", "accepted", "spoken"),
    [
        (None, "de-AT,de;q=0.9,en;q=0.8", "de"),
        (None, "fr,it;q=0.3", "en"),
        (None, "en;q=0.2, de;q=0.7", "de"),
        ("en", "de", "en"),
        ("xx", "de", "de"),
        (None, "de;q=x", "en"),
        (None, "", "en"),
    ],
)
def test_the_language_is_the_one_asked_for(asked: str | None, accepted: str, spoken: str) -> None:
    """Accept-Language: RFC 9110, section 12.5.4."""
    assert language_for(asked, accepted) == spoken


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DeskClient]:
    with running_desk(studio_with_demo(tmp_path_factory.mktemp("words"))) as client:
        yield client


def test_parts_in_another_language_say_so(desk: DeskClient) -> None:
    """WCAG 2.2, 3.1.1 and 3.1.2: what stays English on a German page is marked as English."""
    text = desk.ask("/r/lamplight/", headers={"Accept-Language": "de"}).text
    assert '<html lang="de">' in text
    assert '<p class="subtitle">15 Minuten zum Ankommen · ' in text
    assert '<p class="how" lang="en">' in text
    assert "festhalten" in text


def test_the_drawn_page_is_in_the_language_of_its_routine(tmp_path: Path) -> None:
    """Whatever language the desk speaks; the list that is heard in its place, too."""
    studio = studio_with_demo(tmp_path)
    shelf = Shelf(studio)
    kept = shelf.open("lamplight")
    assert kept.routine.brief
    brief = replace(kept.routine.brief, language=Language.GERMAN)
    shelf.put("lamplight", replace(kept.routine, brief=brief), "In German.", seen=kept.version)
    desk = DeskWindow(studio)
    # The version before was English, and is drawn so beside the new one.
    for leaf, tongues in (("", ["de", "de"]), ("beside", ["en", "de"])):
        text = desk.get(f"/r/lamplight/{leaf}").text
        roots = re.findall(r"<svg [^>]*aria-labelledby[^>]*>", text)
        assert [re.findall(r' lang="(\w+)"', root) for root in roots] == [[t] for t in tongues]
        assert not re.search(r'<div lang="en"[^>]*>\s*<svg', text)
    page = desk.get("/r/lamplight/").text
    first = shelf.open("lamplight").routine.line[0]
    name = passage_name(first, builtin_craft().in_language(Language.GERMAN), NamesShown.PLAIN)
    assert re.search(rf'<div role="option" lang="de"[^>]*>0:00 {name}</div>', page)
    assert f'<span class="name" lang="de">{name}</span>' in page


@pytest.mark.skipif(find_chromium() is None, reason="no Chromium on this machine")
def test_german_leaves_keep_nobody_out_and_fit(desk: DeskClient, tmp_path: Path) -> None:
    with browser_tab() as tab:
        tab.open(desk.address)
        press(tab, ".tongue [value=de]")
        tab.wait_for("document.documentElement.lang === 'de'")
        assert text_of(tab, "h1") == "Deine Routinen"
        for leaf in ("/", *(f"/r/lamplight/{leaf}" for leaf in LEAVES)):
            tab.open(f"{desk.base}{leaf}", 320, 640)
            tab.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
            assert tab.run("document.documentElement.scrollWidth <= window.innerWidth"), leaf
            if AXE.is_file():
                assert barriers(tab) == [], leaf
        assert tab.troubles == []
