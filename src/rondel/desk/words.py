"""The words of the desk in the reader's language, from gettext catalogues in `locale/`.

Catalogues stay in their readable form (.po) and are compiled in memory when the desk starts.
"""

from __future__ import annotations

from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files
from io import BytesIO

from babel import Locale
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

#: What the desk speaks; the first where nothing else is asked for.
LANGUAGES = {"en": "English", "de": "Deutsch"}


@cache
def translations(language: str) -> NullTranslations:
    """Return the catalogue of `language`; English needs none."""
    if language == "en" or language not in LANGUAGES:
        return NullTranslations()
    path = files("rondel") / "desk" / "locale" / f"{language}.po"
    with path.open("rb") as file:
        catalogue = read_po(file, locale=Locale.parse(language))
    packed = BytesIO()
    write_mo(packed, catalogue)
    packed.seek(0)
    return GNUTranslations(packed)


def language_for(asked: str | None, accepted: str) -> str:
    """Return the language to speak: the one asked for, else the browser's first that we have.

    >>> language_for(None, "fr;q=0.9, de-AT, en;q=0.5"), language_for("en", "de")
    ('de', 'en')
    """
    if asked in LANGUAGES:
        return str(asked)
    rated = []
    for place, part in enumerate(accepted.split(",")):
        tag, _, weight = part.strip().partition(";q=")
        try:
            rated.append((-float(weight or 1), place, tag.split("-")[0].lower()))
        except ValueError:
            continue
    return next((tag for _, _, tag in sorted(rated) if tag in LANGUAGES), "en")
