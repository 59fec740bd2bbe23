"""What Rondel tells in English, told again in the reader's language.

Reasons, findings, refusals and what was heard or seen come as English sentences, from layers that
know nothing of languages, and from routines that were planned long ago. So the desk recognises
them: a catalogue holds every pattern of a sentence, as "The peak from {1} to {2} comes too {3}: …",
and what stands in its gaps is recognised in the same way. What is not recognised stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import IntEnum
from functools import cache, lru_cache
from importlib.resources import files

from babel.messages.pofile import read_po
from markupsafe import Markup, escape

from rondel.drawing.page_words import number_in_words

_GAP = re.compile(r"\{(\d+)\}")
_NAMED = re.compile(r"\{[a-z]")
_SENTENCES = re.compile(r"(?<=[.?!]) (?=[A-Z“\"\ue000-\uf8ff])")
_EDGES = re.compile(r"([,;: ]*)(.*?)([,;: ]*)", re.DOTALL)
_BRACKETS = re.compile(r"( ?\()([^()]*)(\))")
_JOINS = re.compile(r", | and | or |; | · ")
_MARKS = re.compile("[\ue000-\uf8ff]")
#: Words that are no names: these begin with capitals, as do a few words of ours.
_STRANGE = re.compile(
    r"(?<![\w’'])(?:[a-z][a-z’']+|(?:The|Between|Let|With|One|Two|Three|Four|Five|Six)(?![\w’']))"
)
_WORDS = re.compile(r"(?<!\w)[^\W_]+(?!\w)")
_DECIMALS = re.compile(r"-?\d+\.\d+")
_LETTERS = re.compile(r"[^\W\d_]")
_GOES_ON = re.compile(r" [\w,:]{2,}$")
_GOES_BACK = re.compile(r"[ ,;:]*[a-z]{2,} ")
#: Sentences within sentences within sentences: more than this is no sentence of ours.
DEEPEST = 7
#: So many patterns of each kind are tried for one text, those that say most of it first.
MOST_TRIED = 5
#: What stands beside another piece has so many letters of its own.
LEAST_BESIDE = 6
#: Lists are short: a text with more letters is not taken for one.
LONGEST_LIST = 160
#: So many texts within one are looked into, before it is told as far as it is known.
MOST_WORK = 1500
#: Characters for private use (Unicode, 23.5) stand for names while a text is looked into.
FIRST_MARK, LAST_MARK = 0xE000, 0xF8FF
#: What is kept of what was recognised, so that a page asks for each sentence once.
KEPT = 8192


class _Kind(IntEnum):
    """Whether a pattern is a sentence by itself, or one that another piece stands beside."""

    WHOLE = 0
    GOES_ON = 1  # "You insist on {1}, but", and the rest follows
    GOES_BACK = 2  # "has strokes of {1} beats", and what it is about comes before


@dataclass(frozen=True, slots=True)
class _Pattern:
    """A sentence with gaps: `gaps` are their numbers, as they follow each other in English."""

    kind: _Kind
    expression: re.Pattern[str]
    longest: str  # of the pieces between gaps, which a text has to have
    gaps: tuple[str, ...]
    told: str
    letters: int  # for which it stands by itself
    said: frozenset[str]  # the gaps that are told again
    word: str  # its longest, which a text has to have; "" where it has none that is whole

    def groups(self, text: str) -> tuple[str, ...] | None:
        """Return what stands in the gaps of `text`; None where it is another sentence."""
        if self.longest not in text:
            return None
        found = self.expression.fullmatch(text)
        if found is None:
            return None
        # What is not told again may be an ending or a verb, and never a piece of a sentence.
        first = self.kind is _Kind.GOES_BACK
        unsaid = [
            w
            for gap, w in zip(self.gaps, found.groups()[first:], strict=False)
            if gap not in self.said
        ]
        return None if any(" " in words for words in unsaid) else found.groups()

    def filled(self, words: list[str]) -> str:
        """Return what is told, with `words` in the gaps and beside it."""
        before = words.pop(0) if self.kind is _Kind.GOES_BACK else ""
        after = "".join(words[-2:]) if self.kind is _Kind.GOES_ON else ""
        words = words[: len(self.gaps)]
        named = dict(zip(self.gaps, words, strict=True))
        return before + _GAP.sub(lambda gap: named[gap[1]], self.told) + after


@dataclass(frozen=True, slots=True)
class _Told:
    """A text told again: how many letters of it were not recognised, and how many were."""

    words: str
    strange: int
    known: int

    @property
    def rank(self) -> tuple[int, int]:
        """The lower, the better."""
        return self.strange, -self.known


class Telling:
    """Tells sentences in one language, from a catalogue of patterns."""

    def __init__(self, catalogue: Mapping[str, str]) -> None:
        self.whole = {id: words for id, words in catalogue.items() if not _GAP.search(id)}
        patterns = [pattern for id, words in catalogue.items() for pattern in _patterns(id, words)]
        self._patterns = sorted(patterns, key=lambda p: (p.kind, -p.letters))
        self._by_word: dict[str, list[int]] = {}
        for number, pattern in enumerate(self._patterns):
            self._by_word.setdefault(pattern.word, []).append(number)
        self._found = lru_cache(maxsize=KEPT)(lambda text: _Search(self).best(text, 0))

    def tell(self, text: str, names: Iterable[str] = ()) -> str | None:
        """Return `text` told again; None where nothing in it is known. `names` stay as they are."""
        if _MARKS.search(text):
            return None
        there = sorted((name for name in names if name and name in text), key=len, reverse=True)
        marks = dict(zip(map(chr, range(FIRST_MARK, LAST_MARK)), there, strict=False))
        for mark, name in marks.items():
            text = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", mark, text)
        found = self._found(text)
        if not found.known:
            return None
        return "".join(marks.get(letter, letter) for letter in found.words)

    def matches(self, text: str) -> Iterator[tuple[_Pattern, tuple[str, ...]]]:
        """Yield the patterns that `text` may be, with what stands in their gaps."""
        words = {"", *_WORDS.findall(text)}
        numbers = sorted(number for word in words for number in self._by_word.get(word, ()))
        tried = [0] * len(_Kind)
        for number in numbers:
            pattern = self._patterns[number]
            if tried[pattern.kind] < MOST_TRIED:
                groups = pattern.groups(text)
                if groups is not None and text not in groups:
                    tried[pattern.kind] += 1
                    yield pattern, groups


class _Search:
    """Looks for the best way to tell one text; what was found of its pieces is remembered."""

    def __init__(self, known: Telling) -> None:
        self._known = known
        self._left = MOST_WORK
        self._found: dict[tuple[str, int], _Told] = {}

    def best(self, text: str, depth: int) -> _Told:
        """Return `text` told again, as far as it is known."""
        key = text, depth
        if key not in self._found:
            self._found[key] = self._find(text, depth)
        return self._found[key]

    def _find(self, text: str, depth: int) -> _Told:
        if (words := self._known.whole.get(text)) is not None:
            return _Told(words, 0, len(_LETTERS.findall(text)))
        as_it_is = _Told(_number(text), len("".join(_STRANGE.findall(text))), 0)
        self._left -= 1
        if depth == DEEPEST or not as_it_is.strange or self._left < 0:
            return as_it_is
        best = as_it_is
        for way in self._ways(text, depth):
            best = min(best, way, key=lambda one: one.rank)
            if not best.strange:
                break
        return best

    def _ways(self, text: str, depth: int) -> Iterator[_Told]:
        """Yield what `text` may be, the likelier first."""
        for edges in (_BRACKETS, _EDGES):
            found = edges.fullmatch(text)
            if found is not None and found[2] != text:
                yield self._together([found[1], found[3]], ["", found[2], ""], depth)
        yield from self._by_sentences(text, depth)
        yield from self._by_patterns(text, depth)
        if len(text) <= LONGEST_LIST:
            yield from self._by_joins(text, depth)
        yield from self._as_begun(text, depth)

    def _by_sentences(self, text: str, depth: int) -> Iterator[_Told]:
        pieces = _SENTENCES.split(text)
        if len(pieces) > 1:
            yield self._together([" "] * (len(pieces) - 1), pieces, depth)
        elif text.endswith(".") and text[:-1]:
            yield self._together(["."], [text[:-1], ""], depth)

    def _by_joins(self, text: str, depth: int) -> Iterator[_Told]:
        for join in _JOINS.finditer(text):
            pieces = [text[: join.start()], text[join.end() :]]
            if all(pieces):
                word = join[0].strip()
                told = self._known.whole.get(word, word)
                yield self._together([join[0].replace(word, told)], pieces, depth)

    def _together(self, joins: list[str], pieces: list[str], depth: int) -> _Told:
        told = [self.best(piece, depth + 1) for piece in pieces]
        words = "".join(one.words + join for one, join in zip(told, [*joins, ""], strict=True))
        return _Told(words, sum(one.strange for one in told), sum(one.known for one in told))

    def _by_patterns(self, text: str, depth: int) -> Iterator[_Told]:
        for pattern, groups in self._known.matches(text):
            told = [self.best(group, depth + 1) for group in groups]
            yield _Told(
                pattern.filled([one.words for one in told]),
                sum(one.strange for one in told),
                pattern.letters + sum(one.known for one in told),
            )

    def _as_begun(self, text: str, depth: int) -> Iterator[_Told]:
        """Recognise what began with a small letter, before it came to begin a sentence."""
        if text[:1].isupper() and (depth == 0 or text[-1:] in ".?!"):
            found = self.best(text[:1].lower() + text[1:], depth + 1)
            if found.known:
                yield _Told(found.words[:1].upper() + found.words[1:], found.strange, found.known)


def _number(text: str) -> str:
    return text.replace(".", ",") if _DECIMALS.fullmatch(text) else text


def _patterns(id: str, words: str) -> Iterator[_Pattern]:
    """Yield what `id` may be within a sentence: all of it, or what it begins or ends with."""
    pieces = _GAP.split(id.rstrip())
    literals, gaps = pieces[::2], tuple(pieces[1::2])
    middle = "(.*?)".join(re.escape(literal) for literal in literals)
    longest = max(literals, key=len)
    letters = sum(len(_LETTERS.findall(literal)) for literal in literals)
    said = frozenset(_GAP.findall(words))
    word = max(_WORDS.findall(_GAP.sub("_", id)), key=len, default="")
    id = id.rstrip()
    is_long = letters >= LEAST_BESIDE and " " in id.strip()
    beside = "(.+ )" if id[:1].isalpha() else "(.+)"
    expressions = {
        _Kind.WHOLE: middle if gaps else None,
        _Kind.GOES_ON: f"{middle}([:;,]? )(.+)" if is_long and _GOES_ON.search(id) else None,
        _Kind.GOES_BACK: f"{beside}{middle}" if is_long and _GOES_BACK.match(id) else None,
    }
    for kind, expression in expressions.items():
        if expression is not None:
            yield _Pattern(
                kind, re.compile(expression, re.DOTALL), longest, gaps, words, letters, said, word
            )


@cache
def telling(language: str) -> Telling | None:
    """Return what tells sentences in `language`; None for English, which they are told in.

    Words that the desk has of its own, as names of places on the body, are known, too.
    """
    folder = files("rondel") / "desk" / "locale"
    if not (folder / f"{language}-told.po").is_file():
        return None
    # Numbers that are written out are told in digits, which every language has.
    known = {number_in_words(number): str(number) for number in range(13, 200)}
    for name in (language, f"{language}-told"):
        with (folder / f"{name}.po").open("rb") as file:
            known |= {str(m.id): str(m.string) for m in read_po(file) if m.id and m.string}
    return Telling({id: words for id, words in known.items() if not _NAMED.search(id)})


def plainly_in(language: str, text: str, names: Iterable[str] = ()) -> str:
    """Return an English `text` in `language`, as far as it is known there; `names` as they are."""
    known = telling(language)
    return text if known is None else known.tell(text, names) or text


def told_in(language: str, text: str, names: Iterable[str] = ()) -> Markup:
    """Return the same for a page; what stays English says so to those who hear it."""
    known = telling(language)
    told = text if known is None else known.tell(text, names)
    return escape(told) if told is not None else Markup('<span lang="en">{}</span>').format(text)
