"""The page tells the routine: strokes where they land, in order, in words too."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from xml.etree import ElementTree

import pytest

import page_samples as samples
from desk_client import demo_routine
from page_reading import path_points
from rondel.adapters.craft_files import builtin_craft
from rondel.drawing.page import PageDrawing, draw_map, draw_page, draw_slip
from rondel.drawing.page_measure import A4, LETTER
from rondel.drawing.page_words import length_in_words, number_in_words
from rondel.model.brief import Brief
from rondel.model.safety import CONSENT, DISCLAIMER, NOT_NOW, NOT_THERE, WHILE
from rondel.model.words import Contact, Intention, Language, NamesShown

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def page() -> PageDrawing:
    return draw_page(samples.lamplight(), samples.CRAFT)


def group(svg: str, id: str) -> ElementTree.Element:
    root = ElementTree.fromstring(svg)
    return next(g for g in root.iter(f"{SVG}g") if g.get("id") == id)


def mark_paths(svg: str, id: str) -> list[str]:
    found = group(svg, id).iter(f"{SVG}path")
    return [p.attrib["d"] for p in found if p.get("class") == "mark"]


def words_of(svg: str) -> list[str]:
    return [t.text or "" for t in ElementTree.fromstring(svg).iter(f"{SVG}text")]


def test_the_same_routine_gives_the_same_bytes(page: PageDrawing) -> None:
    again = draw_page(samples.lamplight(), samples.CRAFT)
    assert again.svg == page.svg
    assert again.sheets == page.sheets


def test_numbers_have_at_most_two_decimals(page: PageDrawing) -> None:
    drawn = re.sub(r'data-(start|end)="[^"]*"', "", page.svg)
    assert re.search(r"\d\.\d{3}", drawn) is None
    assert "-0 " not in drawn
    assert re.search(r"\b(nan|inf)\b", drawn) is None


def test_every_passage_has_a_group_with_its_seconds_and_its_words(page: PageDrawing) -> None:
    routine = samples.lamplight()
    for passage in routine.passages:
        g = group(page.svg, passage.id)
        assert float(g.attrib["data-start"]) == pytest.approx(routine.start_seconds(passage))
        assert float(g.attrib["data-end"]) == pytest.approx(routine.end_seconds(passage))
        told = g.find(f"{SVG}title")
        assert told is not None
        assert told.text is not None
        assert len(mark_paths(page.svg, passage.id)) >= 1
    # Passage 21 is the peak on the left: 9:32 by hand, 143 bars of 4 seconds.
    p = group(page.svg, "p21").find(f"{SVG}title")
    assert p is not None
    assert p.text == ("9:32 Slow plough, their left, pressure 4 of 5, leaning in, the peak")


def test_every_name_stands_on_the_page_once_for_each_time_it_begins(page: PageDrawing) -> None:
    words = words_of(page.svg)
    assert words.count("Homecoming") == 4
    assert words.count("And hold") == 4
    assert words.count("River stones") == 1  # its right side needs no second name
    assert words.count("Slow plough") == 3  # before the peak, and the peak on each side
    assert words.count("Yours to fill") == 1


def test_times_stand_in_the_margin_one_a_minute(page: PageDrawing) -> None:
    assert [w for w in words_of(page.svg) if re.fullmatch(r"\d+:\d\d", w)] == [
        f"{m}:00" for m in range(15)
    ]
    assert len(page.lines) == 15


def test_a_long_form_has_two_minutes_on_a_line() -> None:
    lines = draw_page(samples.long_evening(), samples.CRAFT).lines
    assert lines[0].end == 120
    assert lines[-1].end == pytest.approx(samples.long_evening().clock.total_seconds)


def test_a_slip_has_half_a_minute_on_a_line_and_says_the_same(page: PageDrawing) -> None:
    slip = draw_slip(samples.lamplight(), samples.CRAFT)
    assert {round(n.end - n.start) for n in slip.lines} == {30}
    assert slip.width < page.width / 2
    assert slip.sheets == ()
    assert slip.seconds == page.seconds
    told = re.compile(r"<desc[^>]*>(.*?)</desc>", re.S)
    assert told.findall(slip.svg) == told.findall(page.svg)
    ids = [re.findall(r'\bid="([^"]+)"', svg) for svg in (page.svg, slip.svg)]
    assert ids[1] == [f"slip-{id}" for id in ids[0]]


def test_a_remainder_of_seconds_gets_no_line_of_its_own() -> None:
    rows = (*samples.LAMPLIGHT[:-1], ("rest", samples.C, samples.B, 10, 0, Fraction(40)))
    page = draw_page(samples.routine_of(rows), samples.CRAFT)
    assert len(page.lines) == 15
    assert page.lines[-1].end == 904
    assert page.lines[-1].right == pytest.approx(A4.width - 32)


def test_a_glide_turns_where_its_stroke_lands(page: PageDrawing) -> None:
    # Passage 2: from bar 6 (24 s), strokes of 8 beats at 60 a minute, turning on the fourth: so
    # at 28, 36, 44 and 52 s, the top of the arc, which is where two cubics join. The fifth begins
    # on this line and lands, at 60 s, where the next begins.
    line = page.lines[0]
    d = mark_paths(page.svg, "p02")[0]
    top = line.baseline - max(line.baseline - y for _, y in path_points(d))
    tops = sorted({round(x, 1) for x, y in path_points(d) if abs(y - top) < 1e-6})
    wanted = [line.left + (line.right - line.left) * s / 60 for s in (28, 36, 44, 52, 60)]
    assert tops == pytest.approx(wanted, abs=0.06)


def test_a_stroke_cut_by_a_lines_end_goes_on_at_the_next(page: PageDrawing) -> None:
    first, second = mark_paths(page.svg, "p02")[:2]
    right, left = page.lines[0].right, page.lines[1].left
    ends = [y for x, y in path_points(first) if abs(x - right) < 0.01]
    starts = [y for x, y in path_points(second) if abs(x - left) < 0.01]
    above = {round(y - page.lines[0].baseline, 1) for y in ends}
    assert {round(y - page.lines[1].baseline, 1) for y in starts} == above
    assert len(above) == 2  # both hands


@pytest.mark.parametrize(("id", "count"), [("p06", 9), ("p08", 16), ("p12", 48), ("p14", 16)])
def test_there_is_one_mark_a_stroke(page: PageDrawing, id: str, count: int) -> None:
    # Bars x 4 beats / beats a stroke: 9x4/4, 8x4/2, 12x4/1, 4x4/2 with two dashes each.
    drawn = sum(d.count("M") for d in mark_paths(page.svg, id))
    assert drawn == (2 * 8 if id == "p14" else count)


def test_left_is_above_the_line_and_right_below(page: PageDrawing) -> None:
    def heights(id: str) -> list[float]:
        found = []
        for d in mark_paths(page.svg, id):
            for _, y in path_points(d):
                near = min(page.lines, key=lambda n: abs(n.baseline - y))
                found.append(y - near.baseline)
        return found

    for left, right in (("p06", "p07"), ("p12", "p13"), ("p21", "p23"), ("p27", "p28")):
        assert max(heights(left)) <= 0.6
        assert min(heights(right)) >= -0.6
        assert min(heights(left)) < -4
        assert max(heights(right)) > 4


def test_firmer_is_thicker(page: PageDrawing) -> None:
    def width(id: str) -> float:
        mark = next(p for p in group(page.svg, id).iter(f"{SVG}path") if p.get("class") == "mark")
        return float(mark.attrib["stroke-width"])

    assert width("p02") < width("p03")  # the same glide at 1 and at 2
    assert width("p06") < width("p08")  # rings at 2 and at 3


def test_beats_have_dots_only_where_they_can_be_heard(page: PageDrawing) -> None:
    root = ElementTree.fromstring(page.svg)
    beats = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "beats")
    dots = [p.attrib["d"].count("M") for p in beats.iter(f"{SVG}path")]
    # Composed music at 60 a minute: from the first bar after 90 s (92 s) to the start of the
    # last passage of the close (216 bars of 4 s: 864 s); rule book, opening and close.
    assert sum(dots) == 864 - 92


def test_the_light_walks_along_the_lines(page: PageDrawing) -> None:
    first, second = page.lines[0], page.lines[1]
    assert page.point_at(0) == (first.left, first.baseline)
    x, y = page.point_at(30)
    assert x == pytest.approx((first.left + first.right) / 2)
    assert y == first.baseline
    assert page.point_at(60) == (second.left, second.baseline)
    assert page.point_at(5000) == (page.lines[-1].right, page.lines[-1].baseline)
    assert page.point_at(-1) == page.point_at(0)


def test_sheets_are_of_the_paper_and_hold_every_line_once() -> None:
    for paper in (A4, LETTER):
        drawing = draw_page(samples.long_evening(), samples.CRAFT, paper)
        times: list[str] = []
        for sheet in drawing.sheets:
            root = ElementTree.fromstring(sheet)
            assert root.attrib["viewBox"] == f"0 0 {paper.width:g} {paper.height:g}"
            times += [w for w in words_of(sheet) if re.fullmatch(r"\d+:\d\d", w)]
            assert any("not medical advice" in w for w in words_of(sheet))
        assert times == [f"{2 * i}:00" for i in range(len(drawing.lines))]


def test_a_quarter_of_an_hour_fits_one_sheet_of_either_paper() -> None:
    for paper in (A4, LETTER):
        assert len(draw_page(samples.lamplight(), samples.CRAFT, paper).sheets) == 1


def test_the_small_map_has_no_words_and_keeps_its_box() -> None:
    for routine in (samples.lamplight(), samples.long_evening()):
        small = draw_map(routine, samples.CRAFT)
        assert words_of(small.svg) == []
        assert (small.width, small.height) == (260, 400)
        for seconds in range(0, int(small.seconds) + 1, 10):
            x, y = small.point_at(seconds)
            assert 0 < x < 260
            assert 0 < y < 400


def test_the_whole_page_is_told_in_words(page: PageDrawing) -> None:
    root = ElementTree.fromstring(page.svg)
    assert root.get("role") == "img"
    title, desc = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert desc is not None
    assert root.attrib["aria-labelledby"] == f"{title.attrib['id']} {desc.attrib['id']}"
    assert title.text == "Lamplight"
    told = desc.text or ""
    assert told.startswith("fifteen minutes to settle · for two who have practised a month")
    for passage in samples.lamplight().passages:
        name = (passage.technique or "yours to fill").replace("-", " ").capitalize()
        assert name in told


def test_names_follow_the_brief() -> None:
    def words(names: NamesShown) -> str:
        routine = replace(samples.lamplight(), brief=replace(samples.BRIEF, names=names))
        return " ".join(words_of(draw_page(routine, samples.CRAFT).svg))

    assert "Erector spinae, outer edge" in words(NamesShown.ANATOMICAL)
    assert "Piano stairs" not in words(NamesShown.ANATOMICAL)
    assert "Piano stairs" in words(NamesShown.BOTH)
    assert "erector spinae, outer edge" in words(NamesShown.BOTH)


def test_what_was_asked_for_and_what_may_be_skipped_is_marked() -> None:
    base = samples.lamplight()
    rows = [replace(p, kept=p.id == "p06", stretch=p.id == "p27") for p in base.passages]
    words = words_of(draw_page(replace(base, passages=tuple(rows)), samples.CRAFT).svg)
    assert "◊" in words
    assert "◊ asked for" in words
    assert "· may be skipped" in words


def test_cautions_of_the_brief_stand_at_the_foot() -> None:
    brief = replace(samples.BRIEF, cautions=("pregnancy",))
    routine = replace(samples.lamplight(), brief=brief)
    foot = " ".join(words_of(draw_page(routine, samples.CRAFT).sheets[0]))
    assert "In pregnancy, ask the midwife first." in foot
    for sentence in (CONSENT[0], WHILE[0], *NOT_NOW, *NOT_THERE, DISCLAIMER):
        assert sentence in foot


def test_a_title_with_signs_of_xml_stays_a_title() -> None:
    routine = replace(samples.lamplight(), title='Salt & "Sea" <slow>')
    page = draw_page(routine, samples.CRAFT)
    assert 'Salt & "Sea" <slow>' in words_of(page.svg)


def test_a_routine_without_its_brief_and_with_unknown_techniques_is_still_drawn() -> None:
    base = samples.lamplight()
    strange = replace(base.passages[3], technique="moon-ladder")
    routine = replace(base, brief=None, passages=(*base.passages[:3], strange, *base.passages[4:]))
    assert "Moon ladder" in words_of(draw_page(routine, samples.CRAFT).svg)


@pytest.mark.parametrize(
    ("minutes", "says"),
    [
        (15, "fifteen minutes"),
        (60, "an hour"),
        (7.5, "seven and a half minutes"),
        (42.004, "forty-two minutes"),
        (90, "ninety minutes"),
        (120, "two hours"),
        (20.3, "about twenty minutes"),
    ],
)
def test_lengths_are_said_as_one_says_them(minutes: float, says: str) -> None:
    assert length_in_words(minutes) == says


def test_numbers_in_words() -> None:
    assert [number_in_words(n) for n in (3, 13, 20, 99, 100, 117)] == [
        "three", "thirteen", "twenty", "ninety-nine", "a hundred", "a hundred and seventeen",
    ]  # fmt: skip


def test_what_is_spared_is_said() -> None:
    brief = Brief(
        title="x", minutes=Fraction(15), intention=Intention.WAKE, level=1,
        spare=(Contact.THUMB, Contact.KNUCKLES, Contact.HEEL),
    )  # fmt: skip
    routine = replace(samples.lamplight(), brief=brief)
    assert "no thumbs, knuckles or heels of the hand" in " ".join(
        words_of(draw_page(routine, samples.CRAFT).svg)
    )


# ---- the language of its words --------------------------------------------------------------
XML_LANG = "{http://www.w3.org/XML/1998/namespace}lang"


def tongues(svg: str) -> dict[str, str]:
    """Return the language of all words of a drawing, inherited as XML 1.0 (2.12) says."""
    found: dict[str, str] = {}

    def walk(element: ElementTree.Element, inherited: str) -> None:
        language = element.get(XML_LANG, inherited)
        assert element.get("lang") == element.get(XML_LANG)  # HTML and SVG 2 read the plain one
        if element.text and element.text.strip():
            found[element.text] = language
        for child in element:
            walk(child, language)

    walk(ElementTree.fromstring(svg), "")
    return found


@pytest.mark.parametrize("shown", [NamesShown.PLAIN, NamesShown.ANATOMICAL, NamesShown.BOTH])
def test_a_page_is_in_its_routines_language_but_for_what_is_english(shown: NamesShown) -> None:
    """WCAG 2.2, 3.1.1 and 3.1.2: names are German, what Rondel says around them is English."""
    routine, known = demo_routine(), builtin_craft()
    assert routine.brief
    brief = replace(routine.brief, language=Language.GERMAN, names=shown)
    routine = replace(routine, title="Lampenschein", brief=brief)
    craft = known.in_language(Language.GERMAN)
    plain = {t.plain for t in craft.techniques} - {t.plain for t in known.techniques}
    page = draw_page(routine, craft)
    for svg in (page.svg, *page.sheets, draw_slip(routine, craft).svg):
        root = ElementTree.fromstring(svg)
        assert (root.get("lang"), root.get(XML_LANG)) == ("de", "de")
        said = tongues(svg)
        assert said["Lampenschein"] == "de"
        names = {text: language for text, language in said.items() if text in plain}
        assert set(names.values()) == (set() if shown is NamesShown.ANATOMICAL else {"de"})
        english = [
            text for text in said if re.search(r"(pressure|consent|the refrain|both$)", text)
        ]
        assert english
        assert {said[text] for text in english} == {"en"}
        is_anatomical = {t.anatomical.lower() for t in craft.techniques}
        assert {said[t] for t in said if t.lower() in is_anatomical} <= {"en"}


def test_an_english_page_says_so_once(page: PageDrawing) -> None:
    assert page.svg.count("lang=") == 2
    assert set(tongues(page.svg).values()) == {"en"}
