"""Which module holds the words of which language."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from rondel.cues import phrases, phrases_de
from rondel.cues.language import Phrases
from rondel.model.words import Language

PHRASES: Final[Mapping[Language, Phrases]] = {
    Language.ENGLISH: phrases,
    Language.GERMAN: phrases_de,
}
