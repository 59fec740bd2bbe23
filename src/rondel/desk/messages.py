"""Every sentence that the desk may show in the reader's language, gathered from where it stands."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from importlib.resources import files
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po

from rondel.adapters.craft_files import builtin_craft
from rondel.desk import names_view, rules_view, sentence_view, technique_form
from rondel.desk.leaves import hands, music, page, rules, start, takes, voice
from rondel.desk.told_messages import told_messages
from rondel.drawing import page_cards
from rondel.drawing.page_words import INTENTION_SAYS, LEVEL_SAYS
from rondel.model.names import POSITION_SAYS, SIDE_SAYS
from rondel.model.words import CONTACT_NAME, PRESSURE_SAYS, TRADE_NAME

ROOT = Path(str(files("rondel")))
LOCALE = ROOT / "desk" / "locale"
#: What stages of long work are called, where they are told of.
_STAGE = re.compile(r'\.begin\(\s*"([^"{]+)"')


def messages() -> tuple[str, ...]:
    """Return all sentences, each once, in the order of where they stand."""
    return tuple(dict.fromkeys((*_in_templates(), *_in_code(), *_in_tables(), *_stages())))


def _in_templates() -> Iterator[str]:
    for path in sorted((ROOT / "desk" / "templates").glob("*.html")):
        yield from _found("jinja2.ext:babel_extract", path, ("_",))


def _in_code() -> Iterator[str]:
    for path in sorted((ROOT / "desk").rglob("*.py")):
        yield from _found("python", path, ("say",))


def _found(method: str, path: Path, words: tuple[str, ...]) -> Iterator[str]:
    keywords = dict.fromkeys(words)
    options = {"trim_blocks": "true", "lstrip_blocks": "true"} if "jinja2" in method else {}
    for _, message, _, _ in extract(method, BytesIO(path.read_bytes()), keywords, (), options):
        if isinstance(message, str):
            yield message


def _in_tables() -> Iterator[str]:
    for table in (
        *(page.DONE, music.CHARACTER_SAYS, music.LAYER_SAYS, music.TAKE_BACK, takes.TAKE_BACK),
        *(voice.LEVEL_SAYS, hands.SAID, names_view.HEADS, names_view.DID, names_view.VERDICTS),
        *(technique_form.TRACE_SAYS, technique_form.LANDING_SAYS, technique_form.FAMILY_SAYS),
        *(start.DONE, rules.SAID, rules_view.NUMBER_SAYS, rules_view.KEY_SAYS),
        *(technique_form.FIELD_SAYS, page_cards.LEVEL_SAYS, TRADE_NAME),
        *(INTENTION_SAYS, LEVEL_SAYS, CONTACT_NAME, POSITION_SAYS, PRESSURE_SAYS, SIDE_SAYS),
    ):
        yield from table.values()
    yield from (*sentence_view.SAYS.values(), sentence_view.NO_MINUTES, sentence_view.ALL_FREE)
    yield names_view.LIKED
    craft = builtin_craft()
    yield from (region.name for region in craft.regions)
    yield from (caution.name for caution in craft.cautions)


def _stages() -> Iterator[str]:
    for path in sorted(ROOT.rglob("*.py")):
        yield from _STAGE.findall(path.read_text("utf-8"))


def update(language: str) -> Iterator[tuple[str, int, int]]:
    """Bring both catalogues of `language` up to date; yield of each its name, how many sentences
    there are, and how many of them are not translated. What is said nowhere any more goes."""
    for name, said in ((language, messages()), (f"{language}-told", told_messages())):
        catalogue = _with(LOCALE / f"{name}.po", language, said)
        yield name, len(catalogue), sum(not m.string for m in catalogue if m.id)


def _with(path: Path, language: str, said: tuple[str, ...]) -> Catalog:
    """Write the catalogue at `path` with all that is `said`, what is translated kept; return it."""
    told: dict[str, str] = {}
    if path.is_file():
        with path.open("rb") as file:
            told = {str(m.id): str(m.string) for m in read_po(file) if m.id}
    with (LOCALE / "empty.po").open("rb") as file:
        catalogue = read_po(file, locale=language)
    catalogue.project, catalogue.version, catalogue.msgid_bugs_address = "rondel", "1", ""
    catalogue.creation_date = catalogue.revision_date = datetime(2026, 11, 26, tzinfo=UTC)
    catalogue.last_translator = catalogue.language_team = ""
    for message in said:
        catalogue.add(message, told.get(message, ""))
    with path.open("wb") as out:
        write_po(out, catalogue, width=100, omit_header=False, ignore_obsolete=True)
    return catalogue
