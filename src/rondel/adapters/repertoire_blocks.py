"""The text of a repertoire file, cut into its techniques, so that one changes and no other byte.

A block begins at its `[[technique]]` and ends after its last line that says something; comments
and empty lines after that belong to nobody, for they mostly introduce what follows.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import tomlkit
from tomlkit.exceptions import TOMLKitError

from rondel.adapters.toml_words import broken_says
from rondel.model.codec.craft import technique_to_dict, techniques_from_dict
from rondel.model.errors import BadInput, InternalError
from rondel.model.repertoire import Technique

_HEAD = re.compile(r"""\s*\[\[\s*(?:technique|"technique"|'technique')\s*\]\]\s*(?:#.*)?""")
_LONG = ('"""', "'''")
NOT_OURS = (
    "the techniques in this file are written in a form that the desk cannot change without "
    "touching the rest; change it by hand"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One technique, and where its text stands in the file."""

    start: int
    end: int
    text: str
    technique: Technique

    @property
    def digest(self) -> str:
        return hashlib.sha256(self.text.encode("utf-8")).hexdigest()[:24]


def blocks_of(text: str, *, at: str) -> tuple[Block, ...]:
    """Return the techniques of a file in order. BadInput where the file will not do.

    Also where techniques do not stand as tables of their own, so that none can be cut out.
    """
    whole = techniques_in(text, at=at)
    spans = tuple(_spans(text))
    if len(spans) != len(whole):
        raise BadInput(NOT_OURS, at=at)
    found = []
    for (start, end), technique in zip(spans, whole, strict=True):
        part = text[start:end]
        if techniques_in(part, at=at) != (technique,):
            raise BadInput(NOT_OURS, at=at)
        found.append(Block(start=start, end=end, text=part, technique=technique))
    return tuple(found)


def techniques_in(text: str, *, at: str) -> tuple[Technique, ...]:
    """Return the techniques of a file's text in order. BadInput where it will not do."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        raise BadInput(broken_says(text, error), at=at) from error
    return techniques_from_dict(data, at=at)


def _spans(text: str) -> Iterator[tuple[int, int]]:
    """Yield where each block starts and ends, by its letters."""
    start, end, at, inside = -1, -1, 0, ""
    for line in _lines(text):
        is_head = not inside and _HEAD.fullmatch(line.rstrip("\r\n"))
        if is_head:
            if start >= 0:
                yield start, end
            start = at
        was, inside = inside, _inside_after(line, inside)
        at += len(line)
        says = line.strip()
        if was or inside or (says and not says.startswith("#")):
            end = at
    if start >= 0:
        yield start, end


def _lines(text: str) -> Iterator[str]:
    """Yield lines as TOML has them: they end in a line feed, with or without a return before it."""
    at = 0
    while at < len(text):
        found = text.find("\n", at)
        end = len(text) if found < 0 else found + 1
        yield text[at:end]
        at = end


def _inside_after(line: str, inside: str) -> str:
    """Return the quotes of the long text that is still open after `line`, or the empty text."""
    at = 0
    while at < len(line):
        if inside:
            if line[at] == "\\" and inside == '"""':
                at += 2
                continue
            if line.startswith(inside, at):
                at += 3
                inside = ""
                continue
            at += 1
            continue
        if line[at] == "#":
            return ""
        if line[at : at + 3] in _LONG:
            inside = line[at : at + 3]
            at += 3
        elif line[at] in "\"'":
            at = _after_short(line, at)
        else:
            at += 1
    return inside


def _after_short(line: str, at: int) -> int:
    quote = line[at]
    at += 1
    while at < len(line) and line[at] != quote:
        at += 2 if line[at] == "\\" and quote == '"' else 1
    return at + 1


# ------------------------------------------------------------------ changing
def changed_block(block: Block, technique: Technique, *, at: str) -> str:
    """Return the text of `block` that says `technique`: only what differs is written again."""
    old, new = technique_to_dict(block.technique), technique_to_dict(technique)
    try:
        document = tomlkit.parse(block.text)
        if document.as_string() != block.text:
            raise BadInput(NOT_OURS, at=at)
        table = document["technique"][0]
        for key, value in new.items():
            if old.get(key) != value:
                _put(table, key, value)
        for key in old.keys() - new.keys():
            del table[key]
        text = document.as_string()
    except TOMLKitError as error:
        raise BadInput(NOT_OURS, at=at) from error
    if techniques_in(text, at=at) != (technique,):
        raise InternalError("the technique would not be written as it was asked for", at=at)
    return text if text.endswith("\n") or not block.text.endswith("\n") else text + "\n"


def _put(table: tomlkit.items.Table, key: str, value: object) -> None:
    if isinstance(value, Mapping) and key in table:
        inner = table[key]
        for name, word in value.items():
            if inner.get(name) != word:
                inner[name] = word
        for name in [n for n in inner if n not in value]:
            del inner[name]
        return
    table[key] = value


def new_block(technique: Technique) -> str:
    """Return the text of a technique that stands in no file yet; what is usual goes unsaid."""
    row = technique_to_dict(technique)
    table = tomlkit.table()
    for key, value in row.items():
        if key not in ("helps_turn", "from_far_end", "refrain") or value:
            table[key] = value
    row_of_tables = tomlkit.aot()
    row_of_tables.append(table)
    document = tomlkit.document()
    document["technique"] = row_of_tables
    return document.as_string()
