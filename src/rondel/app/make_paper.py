"""Make the paper of a session: the drawn page and the cards."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from rondel.app.ports.typesetting import Printable, PrintJob, Typesetter
from rondel.app.progress import Progress
from rondel.drawing import figure
from rondel.drawing.page import draw_page
from rondel.drawing.page_cards import (
    Still,
    TechniqueCard,
    WordsCard,
    card_told,
    caution_cards,
    technique_cards,
)
from rondel.drawing.page_measure import A4, Paper
from rondel.drawing.page_words import page_told
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine

#: Writes a file whole or not at all: (path, data).
Write = Callable[[Path, bytes], None]

PAPER_FILES = ("page.svg", "page.pdf", "cards.pdf")


def make_paper(
    routine: Routine,
    craft: Craft,
    out: Path,
    typesetter: Typesetter,
    progress: Progress,
    *,
    write: Write,
    paper: Paper = A4,
    still: Still = figure.still,
) -> tuple[Path, ...]:
    """Write page.svg, page.pdf and cards.pdf into the folder `out`; return their paths.

    Raises OutsideFailure where the folder cannot be written.
    """
    progress.begin("Setting the paper", len(PAPER_FILES))
    page = draw_page(routine, craft, paper)
    makers: tuple[Callable[[], bytes], ...] = (
        lambda: page.svg.encode("utf-8"),
        lambda: typesetter.typeset(page_job(routine, craft, page.sheets, paper)),
        lambda: typesetter.typeset(cards_job(routine, craft, paper, still)),
    )
    written = []
    for name, make in zip(PAPER_FILES, makers, strict=True):
        write(out / name, make())
        written.append(out / name)
        progress.advance(1)
    progress.end()
    return tuple(written)


def page_job(routine: Routine, craft: Craft, sheets: tuple[str, ...], paper: Paper) -> PrintJob:
    """Return the print job of the page: one drawing a sheet."""
    told = page_told(routine, craft)
    names = [f"sheet-{i}.svg" for i in range(1, len(sheets) + 1)]
    return PrintJob(
        template="page",
        words={
            **_document_words(routine.title, paper),
            "sheets": [
                {"picture": name, "told": told if i == 0 else f"{routine.title}, continued"}
                for i, name in enumerate(names)
            ],
        },
        pictures=dict(zip(names, sheets, strict=True)),
    )


def cards_job(routine: Routine, craft: Craft, paper: Paper, still: Still) -> PrintJob:
    """Return the print job of the cards: consent and cautions first, then the techniques."""
    cards = technique_cards(routine, craft, still)
    names = [f"figure-{i}.svg" for i in range(1, len(cards) + 1)]
    rows: list[Printable] = [_words_card(c) for c in caution_cards(routine, craft)]
    rows += [_technique_card(c, name) for c, name in zip(cards, names, strict=True)]
    return PrintJob(
        template="cards",
        words={**_document_words(f"{routine.title}: cards", paper), "cards": rows},
        pictures={name: c.picture for c, name in zip(cards, names, strict=True)},
    )


def _document_words(title: str, paper: Paper) -> dict[str, Printable]:
    return {"title": title, "language": "en", "width": paper.width, "height": paper.height}


def _words_card(card: WordsCard) -> Printable:
    return {
        "kind": "words",
        "name": card.name,
        "parts": [{"head": head, "says": says} for head, says in card.parts],
    }


def _technique_card(card: TechniqueCard, picture: str) -> Printable:
    return {
        "kind": "technique",
        "name": card.technique.plain,
        "anatomical": card.technique.anatomical,
        "how": card.technique.how,
        "picture": picture,
        "told": card_told(card),
        "beside": [list(row) for row in card.beside],
        "facts": [list(row) for row in card.facts],
        "care": list(card.care),
    }
