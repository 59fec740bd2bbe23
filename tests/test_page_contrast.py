"""Words and marks can be told from the paper.

WCAG 2.2 (W3C, 2023): relative luminance and contrast ratio; 1.4.3 text 4.5:1, 1.4.11 graphics 3:1.
"""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

import page_samples as samples
from rondel.drawing import ink
from rondel.drawing.page import draw_map, draw_page

SVG = "{http://www.w3.org/2000/svg}"


def luminance(colour: str) -> float:
    def linear(part: int) -> float:
        c = part / 255
        return c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4

    r, g, b = (linear(int(colour[i : i + 2], 16)) for i in (1, 3, 5))
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_the_published_ratios() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_all_words_stand_out_from_paper_and_tint() -> None:
    root = ElementTree.fromstring(draw_page(samples.layered(), samples.CRAFT).svg)
    fills = {t.attrib["fill"] for t in root.iter(f"{SVG}text")}
    assert fills == {ink.INK, ink.NOTES, ink.BLUE, ink.PEAK}
    for fill in fills:
        # No words stand on the tint: test_page_collisions sees to it.
        for ground in (ink.PAPER, "#ffffff"):
            assert contrast(fill, ground) >= 4.5


@pytest.mark.parametrize("draw", [draw_page, draw_map])
def test_all_marks_stand_out_from_what_they_stand_on(draw: object) -> None:
    drawing = draw(samples.layered(), samples.CRAFT)  # type: ignore[operator]
    root = ElementTree.fromstring(drawing.svg)
    colours = {
        p.get("stroke") or p.attrib["fill"]
        for p in root.iter(f"{SVG}path")
        if (p.get("stroke") or p.get("fill")) != ink.HAIR  # ruled paper: tells nothing
    }
    assert colours == {ink.INK, ink.NOTES, ink.BLUE, ink.PEAK}
    for colour in colours:
        for ground in (ink.PAPER, "#ffffff", ink.TINT):
            assert contrast(colour, ground) >= 3


def test_what_colour_says_shape_says_too() -> None:
    svg = draw_page(samples.lamplight(), samples.CRAFT).svg
    # The refrain: edges in full contrast beside the tint. The peak: a bold name and a rule.
    assert contrast(ink.NOTES, ink.PAPER) >= 4.5
    root = ElementTree.fromstring(svg)
    home = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "home")
    edges = [p for p in home.iter(f"{SVG}path") if p.get("stroke") == ink.NOTES]
    assert len(edges) == 2 * len(samples.lamplight().refrains)
    bold = [t for t in root.iter(f"{SVG}text") if t.get("font-weight") == "600"]
    assert {t.text for t in bold} == {"Slow plough"}
    assert all(t.get("fill") == ink.PEAK for t in bold)
