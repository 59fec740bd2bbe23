"""The follow-along page holds all it needs, and says it in words."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest

from cue_routines import lot_routine
from rondel.adapters.atomic import write_text
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.follow_files import follow_template
from rondel.app.make_follow import make_follow
from rondel.app.ports.voice import Speech
from rondel.documents.follow import light_path
from rondel.drawing.page import PageDrawing, draw_page, draw_slip
from rondel.model.routine import Routine
from rondel.model.safety import safety_sentences

CRAFT = builtin_craft()


@cache
def made(title: str = "Lamplight", minutes: float = 15.0) -> tuple[Routine, str]:
    routine = replace(lot_routine(4, minutes), title=title)
    return routine, page_of(routine)


def page_of(routine: Routine) -> str:
    written: dict[Path, str] = {}

    def keep(path: Path, text: str) -> None:
        written[path] = text

    make_follow(routine, CRAFT, Speech(), Path("session"), follow_template, keep)
    return written[Path("session/follow/index.html")]


def data_of(text: str) -> dict[str, object]:
    block = re.search(r'<script type="application/json" id="routine">(.*?)</script>', text, re.S)
    assert block
    found: dict[str, object] = json.loads(block[1])
    return found


class Outline(HTMLParser):
    """Collects elements with their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))


def test_nothing_is_asked_of_a_network() -> None:
    _, text = made()
    without_names = text.replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?:|//[a-z]+\.", without_names)
    addresses = [
        value
        for _, attributes in Outline(text).found
        for name, value in attributes.items()
        if name in ("src", "href") and value
    ]
    assert set(addresses) == {"#page", "../session.mp4", "../session.m4a"}


def test_consent_is_read_at_once_and_every_caution_is_one_click_away() -> None:
    routine, text = made()
    fold = re.search(
        r'<details id="before" class="before">\s*<summary>(.*?)</summary>(.*?)</details>',
        text,
        re.S,
    )
    assert fold
    assert text.index(fold[0]) < text.index("<video")
    consent, *cautions = (s.replace("'", "&#x27;") for s in safety_sentences(routine.brief, CRAFT))
    assert consent in fold[1]
    assert re.findall(r"<li>(.*?)</li>", fold[2]) == cautions
    assert len(cautions) >= 5


def test_what_the_cautions_of_the_brief_say_stands_right_after_consent() -> None:
    routine = lot_routine(4)
    assert routine.brief is not None
    careful = replace(routine.brief, cautions=("varicose_veins", "pregnancy"))
    told = safety_sentences(careful, CRAFT)
    _, text = made()
    assert ">All cautions</span>" in text
    assert ">All cautions, and those for you</span>" in page_of(replace(routine, brief=careful))
    assert told[:2] == safety_sentences(None, CRAFT)[:2]
    assert told[2:4] == tuple(CRAFT.caution(c).says for c in careful.cautions)
    assert set(safety_sentences(None, CRAFT)) < set(told)


def test_the_page_has_a_language_a_title_and_landmarks() -> None:
    _, text = made()
    tags = Outline(text).found
    assert ("html", {"lang": "en"}) in tags
    assert "<title>Lamplight: follow along</title>" in text
    names = [tag for tag, _ in tags]
    assert names.count("main") == 1
    assert names.count("h1") == 1
    assert "header" in names
    assert "aside" in names
    ids = [a["id"] for _, a in tags if a.get("id")]
    assert len(ids) == len(set(ids))


def test_every_passage_stands_in_the_list_with_its_side_and_pressure() -> None:
    routine, text = made()
    rows = re.findall(r'<li><button type="button" data-n="(\d+)".*?</li>', text, re.S)
    assert [int(n) for n in rows] == list(range(len(routine.line)))
    for passage in routine.line:
        if passage.technique is not None:
            assert f">{CRAFT.technique(passage.technique).plain}<" in text


@pytest.mark.parametrize("draw", [draw_page, draw_slip])
def test_the_light_goes_where_the_page_says(draw: Callable[..., PageDrawing]) -> None:
    routine, _ = made()
    page = draw(routine, CRAFT)
    path = light_path(page)
    for start, end in zip(path[::2], path[1::2], strict=True):
        for share in (0.0, 0.31, 0.97):
            at = start[0] + (end[0] - start[0]) * share
            x, y = page.point_at(at)
            assert x == pytest.approx(start[1] + (end[1] - start[1]) * share, abs=0.01)
            assert y == pytest.approx(start[2], abs=0.01)
    assert path[0][0] == 0
    assert path[-1][0] == pytest.approx(routine.clock.total_seconds)


def test_the_page_for_narrow_screens_has_its_own_light_and_a_tap_for_every_passage() -> None:
    routine, text = made()
    data = data_of(text)
    for key, draw in (("light", draw_page), ("slip_light", draw_slip)):
        told = [[round(v, 3) for v in point] for point in light_path(draw(routine, CRAFT))]
        assert data[key] == told
    for name in ("taps", "slip-taps"):
        taps = re.search(rf'<g id="{name}" class="taps">(.*?)</g>', text, re.S)
        assert taps
        found = {int(n) for n in re.findall(r'data-n="(\d+)"', taps[1])}
        assert found == set(range(len(routine.line)))


def test_the_data_names_every_start_of_the_refrain() -> None:
    routine, text = made()
    starts = [round(float(routine.start_seconds(r[0])), 3) for r in routine.refrains]
    assert data_of(text)["refrains"] == starts


def test_a_title_cannot_break_out_of_the_page() -> None:
    title = '</script><script>alert("x")</script> & <b>'
    _, text = made(title)
    assert "<script>alert" not in text
    assert text.count("<script") == 2
    assert data_of(text)["passages"]


def test_the_same_routine_gives_the_same_page(tmp_path: Path) -> None:
    routine, text = made()
    report = make_follow(routine, CRAFT, Speech(), tmp_path, follow_template, write_text)
    again = (tmp_path / "follow" / "index.html").read_text("utf-8")
    assert again == text
    assert report.bytes == len(text.encode("utf-8"))


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.2 (the formula in its glossary)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_measure_of_contrast_meets_published_values() -> None:
    # WCAG: black on white 21; #767676 on white 4.54 passes, #777777 4.48 does not.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert round(contrast("#767676", "#ffffff"), 2) == 4.54
    assert round(contrast("#777777", "#ffffff"), 2) == 4.48


def test_text_stands_out_from_its_ground() -> None:
    style = follow_template().style
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", style))
    home_notes = re.search(r"\.home \.facts \{ color: (#[0-9a-f]{6})", style)
    assert home_notes
    pairs = [(colours[t], colours[g]) for t in ("ink", "notes") for g in ("paper", "leaf")]
    pairs += [(colours["ink"], colours["tint"]), (home_notes[1], colours["tint"])]
    for text, ground in pairs:
        assert contrast(text, ground) >= 4.5, (text, ground)
    assert contrast(colours["quiet"], colours["paper"]) >= 3  # the ring of the focus
