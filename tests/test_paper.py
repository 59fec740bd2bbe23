"""The paper of a session: page.svg, page.pdf and cards.pdf, read back by another library."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

import page_samples as samples
from rondel.adapters.atomic import write_bytes
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.typesetting import TypstTypesetter
from rondel.app.make_paper import PAPER_FILES, cards_job, make_paper, page_job
from rondel.app.ports.typesetting import PrintJob, Typesetter
from rondel.app.progress import Silent
from rondel.drawing import figure
from rondel.drawing.page import draw_page
from rondel.drawing.page_cards import technique_cards
from rondel.drawing.page_measure import A4, LETTER, Paper
from rondel.model.errors import InternalError
from rondel.model.repertoire import Technique
from rondel.model.routine import Routine
from rondel.model.words import Position, Side

STILL = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 400"><title>a back</title></svg>'


def plain_still(technique: Technique, side: Side, position: Position) -> str:
    return STILL


def make(routine: Routine, out: Path, paper: Paper = A4) -> dict[str, pypdfium2.PdfDocument]:
    make_paper(
        routine,
        samples.CRAFT,
        out,
        TypstTypesetter(),
        Silent(),
        write=write_bytes,
        paper=paper,
        still=plain_still,
    )
    return {n: pypdfium2.PdfDocument(out / n) for n in ("page.pdf", "cards.pdf")}


def text_of(document: pypdfium2.PdfDocument) -> str:
    pages = (document[i].get_textpage().get_text_range() for i in range(len(document)))
    return " ".join(" ".join(pages).split())


def test_all_three_files_are_written_whole(tmp_path: Path) -> None:
    make(samples.lamplight(), tmp_path)
    assert sorted(f.name for f in tmp_path.iterdir()) == sorted(PAPER_FILES)
    assert (tmp_path / "page.svg").read_text("utf-8").endswith("</svg>\n")


@pytest.mark.parametrize(
    ("paper", "millimetres"), [(A4, (210, 297)), (LETTER, (215.9, 279.4))], ids=["a4", "letter"]
)
def test_sheets_have_the_size_of_the_paper(
    paper: Paper, millimetres: tuple[float, float], tmp_path: Path
) -> None:
    # ISO 216: A4 is 210 mm x 297 mm. US Letter: 8.5 in x 11 in. 72 points an inch, 25.4 mm.
    for document in make(samples.lamplight(), tmp_path, paper).values():
        for i in range(len(document)):
            size = document[i].get_size()
            assert [p * 25.4 / 72 for p in size] == pytest.approx(millimetres, abs=0.01)


def test_the_words_of_the_page_can_be_selected(tmp_path: Path) -> None:
    text = text_of(make(samples.lamplight(), tmp_path)["page.pdf"])
    for words in ("Lamplight", "Wide wings", "Slow plough", "14:00", "not medical advice"):
        assert words in text


def test_a_long_form_fills_several_sheets(tmp_path: Path) -> None:
    document = make(samples.long_evening(), tmp_path)["page.pdf"]
    assert len(document) == len(draw_page(samples.long_evening(), samples.CRAFT).sheets) == 2
    assert "sheet 2 of 2" in text_of(document)


def test_documents_say_what_they_are(tmp_path: Path) -> None:
    documents = make(samples.lamplight(), tmp_path)
    for name, title in (("page.pdf", "Lamplight"), ("cards.pdf", "Lamplight: cards")):
        said = documents[name].get_metadata_dict()
        assert said["Title"] == title
        assert said["Author"] == "Rondel"
        assert said["CreationDate"] == ""  # the clock is not looked at
        assert b"/Lang(en)" in (tmp_path / name).read_bytes()


def test_the_same_routine_gives_the_same_bytes(tmp_path: Path) -> None:
    make(samples.lamplight(), tmp_path / "one")
    make(samples.lamplight(), tmp_path / "two")
    for name in PAPER_FILES:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_there_is_one_card_for_each_technique_and_one_before_all(tmp_path: Path) -> None:
    document = make(samples.lamplight(), tmp_path)["cards.pdf"]
    used = {p.technique for p in samples.lamplight().passages} - {None}
    assert len(document) == -(-(len(used) + 1) // 4)  # four cards a sheet
    text = text_of(document)
    for id in used:
        assert id is not None
        technique = samples.CRAFT.technique(id)
        assert technique.plain in text
        assert technique.anatomical in text
    assert text.count("level") == len(used)


def test_cards_tell_contact_family_pressure_side_and_care(tmp_path: Path) -> None:
    text = text_of(make(samples.lamplight(), tmp_path)["cards.pdf"])
    for words in (
        "heel of the hand",
        "pressing (compression)",
        "gliding (effleurage)",
        "percussion (tapotement)",
        "4 of 5, leaning in",
        "their left, then the same on their right",
        "Stay two fingers away from the spine.",
        "in the refrain, at 1:32, 4:44, 8:12",
    ):
        assert words in text


def test_the_first_card_is_consent_and_cautions(tmp_path: Path) -> None:
    brief = replace(samples.BRIEF, cautions=("pregnancy",))
    document = make(replace(samples.lamplight(), brief=brief), tmp_path)["cards.pdf"]
    text = text_of(document)
    assert text.startswith("Before you begin")
    # Facts with their sources stand in docs/sources.md: oil and latex (Voeller), the sites and
    # conditions (Werner; Walton); consent, stop word and warm room are common practice.
    for words in (
        "one word that stops everything", "warm room", "nuts", "Oil destroys latex",
        "blood clot", "Ask a clinician first", "not medical advice", "local rules",
        "In pregnancy, ask the midwife first.",
    ):  # fmt: skip
        assert words in text


class Broken:
    """A typesetter that fails at one of the documents."""

    def __init__(self, at: str) -> None:
        self.at = at

    def typeset(self, job: PrintJob) -> bytes:
        if job.template == self.at:
            raise InternalError("the paper could not be set")
        return b"%PDF"


def test_what_fails_leaves_nothing_half_written(tmp_path: Path) -> None:
    typesetter: Typesetter = Broken("cards")
    with pytest.raises(InternalError):
        make_paper(
            samples.lamplight(),
            samples.CRAFT,
            tmp_path,
            typesetter,
            Silent(),
            write=write_bytes,
            still=plain_still,
        )
    assert sorted(f.name for f in tmp_path.iterdir()) == ["page.pdf", "page.svg"]


def test_a_template_that_lacks_its_words_is_our_own_mistake() -> None:
    with pytest.raises(InternalError, match="could not be set"):
        TypstTypesetter().typeset(PrintJob(template="page", words={}, pictures={}))


def test_every_technique_of_the_repertoire_fits_its_card() -> None:
    """The smallest letters of a card stay readable: none below 7 points."""
    craft = builtin_craft()
    routine = samples.lamplight()
    passages = []
    bar = 0
    for i, technique in enumerate(craft.techniques):
        side = Side.LEFT if technique.lateral else Side.BOTH
        passages.append(
            replace(
                routine.passages[0], id=f"p{i:03d}", technique=technique.id, side=side,
                position=technique.position[0], start_bar=bar, bars=6,
                pressure=technique.pressure[1],
            )
        )  # fmt: skip
        bar += 6
    every = replace(routine, passages=tuple(passages), bars=bar)
    pdf = TypstTypesetter().typeset(cards_job(every, craft, A4, plain_still))
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == -(-(len(craft.techniques) + 1) // 4)
    sizes = set()
    for i in range(len(document)):
        for item in document[i].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT]):
            left, bottom, right, top = item.get_bounds()
            # Nothing is set in the strip where the scissors go, 5 mm around each card.
            assert not (A4.height / 2 - 14 < (bottom + top) / 2 < A4.height / 2 + 14)
            assert left > 14
            assert right < A4.width - 14
            assert bottom > 14
            assert top < A4.height - 14
            sizes.add(round(item.get_font_size() * item.get_matrix().get()[3], 2))
    assert min(sizes) >= 7.0


def test_cards_show_the_figure_of_the_technique() -> None:
    routine, craft = samples.lamplight(), samples.CRAFT
    cards = technique_cards(routine, craft, figure.still)
    plough = next(c for c in cards if c.technique.id == "slow-plough")
    assert plough.picture == figure.still(craft.technique("slow-plough"), Side.LEFT, Position.PRONE)
    pdf = TypstTypesetter().typeset(cards_job(routine, craft, A4, figure.still))
    assert pdf.startswith(b"%PDF-")


def test_the_page_is_told_to_who_cannot_see_it() -> None:
    page = draw_page(samples.long_evening(), samples.CRAFT)
    job = page_job(samples.long_evening(), samples.CRAFT, page.sheets, A4)
    sheets = job.words["sheets"]
    assert isinstance(sheets, list)
    assert "Wide wings, both sides" in sheets[0]["told"]
    assert sheets[1]["told"] == "The long evening, continued"
