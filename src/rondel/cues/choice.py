"""Which of several wordings is taken: never the same sentence twice where another will do."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import blake2b

from rondel.cues.language import Phrases
from rondel.cues.pace import estimate_seconds

_SENTENCE_END = re.compile(r"(?<=[.!?])\s+")


def sentences(text: str) -> tuple[str, ...]:
    """Return the sentences of `text`, without the spaces between them."""
    return tuple(s for s in _SENTENCE_END.split(text.strip()) if s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """One way to say something. `tells` names what it says beyond the bare change."""

    text: str
    templates: tuple[str, ...]
    tells: frozenset[str] = frozenset()


@dataclass(slots=True)
class Choice:
    """Remembers what was said, in one language. `seed` alone fixes the order of preference."""

    seed: int
    phrases: Phrases
    said: Counter[str] = field(default_factory=Counter)
    templates: Counter[str] = field(default_factory=Counter)
    just_said: frozenset[str] = frozenset()

    def seconds(self, text: str) -> float:
        """Return how long `text` may take to say in this language."""
        return estimate_seconds(text, self.phrases.SECONDS_A_CHARACTER)

    def ranked(self, bank: Iterable[str], words: Mapping[str, str]) -> Iterator[tuple[str, str]]:
        """Give (template, rendered) of `bank`: least used first, then in the seed's own order."""

        def rank(template: str) -> tuple[int, int, str]:
            rendered = render(template, words)
            used = sum(self.said[s] for s in sentences(rendered))
            return used, self.templates[template], self._lot(template)

        for template in sorted(bank, key=rank):
            yield template, render(template, words)

    def _lot(self, template: str) -> str:
        return blake2b(f"{self.seed}:{template}".encode(), digest_size=8).hexdigest()

    def best(self, wordings: Iterable[Wording]) -> Wording | None:
        """Return the first wording whose sentences are new; else the first not just said."""
        spare = None
        for wording in wordings:
            parts = set(sentences(wording.text))
            if not any(self.said[s] for s in parts):
                return wording
            if spare is None and not parts & self.just_said:
                spare = wording
        return spare

    def take(self, wording: Wording) -> None:
        """Remember that `wording` is said now."""
        parts = sentences(wording.text)
        self.said.update(parts)
        self.templates.update(wording.templates)
        self.just_said = frozenset(parts)


def render(template: str, words: Mapping[str, str]) -> str:
    """Fill in `template`, and begin it and each of its sentences with a capital letter."""
    parts = sentences(template.format_map(words))
    return " ".join(s[:1].upper() + s[1:] for s in parts)
