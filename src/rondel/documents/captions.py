"""What is read along with the voice: when each caption stands, and how its lines break.

Sources: BBC subtitle guidelines (at most two lines of 37 characters; about 0.3 seconds a word at
least; captions follow each other at once or at least a second apart).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Protocol

from rondel.model.routine import Routine

LINE_CHARACTERS = 37
LINES = 2
SECONDS_A_WORD = 0.3
SHORTEST_SECONDS = 1.0
GAP_SECONDS = 1.0
_MILLISECOND = 0.001

#: Words that belong to the next one, and do not like to end a line.
_LEANS_ON = frozenset(("a", "an", "the", "and", "or", "of", "on", "in", "to", "at", "by", "for"))

_PART_END = re.compile(r"(?<=[.!?])\s+")


class Said(Protocol):
    """Words as they are heard."""

    @property
    def cue_id(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def start_seconds(self) -> float: ...
    @property
    def end_seconds(self) -> float: ...


class Talk(Protocol):
    """All that is said in a session, in order."""

    @property
    def spoken(self) -> Sequence[Said]: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """Words to read from one second to another, with line breaks where the lines end."""

    id: str
    start_seconds: float
    end_seconds: float
    text: str

    @property
    def seconds(self) -> float:
        return self.end_seconds - self.start_seconds


def caption_spans(routine: Routine, speech: Talk) -> tuple[Caption, ...]:
    """Return the captions of all that is said, in order, none over another.

    They start with the words. Each stays as long as it takes to read, where the next leaves room.
    Between cues there is no gap, or one of a second at least.
    """
    total = float(routine.clock.total_seconds)
    rough: list[Caption] = []
    for said in speech.spoken:
        if said.start_seconds < total and said.text.strip():
            rough.extend(_captions_of(said))
    if not rough:
        return ()
    limits = [c.start_seconds for c in rough[1:]] + [total]
    fitted = [_fitted(c, limit) for c, limit in zip(rough, limits, strict=True)]
    closed = [_without_short_gap(one, after) for one, after in pairwise(fitted)]
    return tuple(_unique([*closed, *fitted[-1:]]))


def _captions_of(said: Said) -> list[Caption]:
    """Cut one cue into captions, in time by their share of the letters."""
    pieces = caption_pieces(said.text)
    whole = sum(len(p) for p in pieces)
    length = max(said.end_seconds - said.start_seconds, _MILLISECOND)
    found, done = [], 0
    for n, piece in enumerate(pieces, start=1):
        start = said.start_seconds + length * done / whole
        done += len(piece)
        end = said.start_seconds + length * done / whole
        name = said.cue_id if len(pieces) == 1 else f"{said.cue_id}-{n}"
        text = "\n".join(broken_lines(piece))
        found.append(Caption(id=name, start_seconds=start, end_seconds=end, text=text))
    return found


def _fitted(caption: Caption, limit: float) -> Caption:
    """Let `caption` stay as long as it takes to read, but not beyond `limit`."""
    words = len(caption.text.split())
    needed = max(SECONDS_A_WORD * words, SHORTEST_SECONDS)
    end = min(max(caption.end_seconds, caption.start_seconds + needed), limit)
    return replace(caption, end_seconds=max(end, caption.start_seconds + _MILLISECOND))


def _without_short_gap(one: Caption, after: Caption) -> Caption:
    gap = after.start_seconds - one.end_seconds
    return replace(one, end_seconds=after.start_seconds) if 0 < gap < GAP_SECONDS else one


def _unique(captions: Sequence[Caption]) -> list[Caption]:
    """Give every caption an id of its own, of letters, digits and hyphens."""
    seen: set[str] = set()
    named = []
    for n, caption in enumerate(captions, start=1):
        name = re.sub(r"[^A-Za-z0-9]+", "-", caption.id).strip("-") or f"caption-{n}"
        while name in seen:
            name = f"{name}-at-{n}"
        seen.add(name)
        named.append(replace(caption, id=name))
    return named


def caption_pieces(text: str) -> tuple[str, ...]:
    """Return `text` in pieces that each fit on two lines: sentences together where they fit."""
    pieces: list[str] = []
    for sentence in _PART_END.split(" ".join(text.split())):
        joined = f"{pieces[-1]} {sentence}" if pieces else sentence
        if pieces and _fits(joined):
            pieces[-1] = joined
        else:
            pieces.extend(_cut(sentence))
    return tuple(pieces)


def _fits(text: str) -> bool:
    return len(_wrapped(text, LINE_CHARACTERS)) <= LINES


def _cut(sentence: str) -> list[str]:
    """Cut a sentence that is too long into equal parts, at commas where they lie near."""
    if _fits(sentence):
        return [sentence]
    words = sentence.split(" ")
    best = min(
        range(1, len(words)),
        key=lambda i: (
            not _fits(" ".join(words[:i])),
            abs(len(" ".join(words[:i])) - len(sentence) / 2)
            - (15 if words[i - 1][-1:] in ",:;" else 0),
        ),
        default=0,
    )
    if best == 0:
        half = LINE_CHARACTERS * LINES
        return [sentence[i : i + half] for i in range(0, len(sentence), half)]
    return [*_cut(" ".join(words[:best])), *_cut(" ".join(words[best:]))]


def broken_lines(text: str) -> tuple[str, ...]:
    """Return `text` on one line, or on two within the limit, broken where one would breathe."""
    if len(text) <= LINE_CHARACTERS:
        return (text,)
    words = text.split(" ")
    splits = []
    for i in range(1, len(words)):
        upper, lower = " ".join(words[:i]), " ".join(words[i:])
        if max(len(upper), len(lower)) <= LINE_CHARACTERS:
            splits.append((abs(len(upper) - len(lower)) + _break_cost(words, i), upper, lower))
    if not splits:
        return tuple(_wrapped(text, LINE_CHARACTERS))
    _, upper, lower = min(splits)
    return upper, lower


def _break_cost(words: list[str], at: int) -> int:
    """Say how badly a line breaks before word `at`: good after marks, bad inside a name."""
    before, after = words[at - 1], words[at]
    if before[-1] in ".?!":
        return -20
    if before[-1] in ",:;":
        return -16
    if before[0].isupper() and after[0].isupper():
        return 20
    return 10 if before.lower() in _LEANS_ON else 0


def _wrapped(text: str, width: int) -> list[str]:
    """Fill lines of `width` with words; a word longer than a line is cut."""
    lines = [""]
    for word in text.split(" "):
        if len(lines[-1]) + bool(lines[-1]) + len(word) <= width:
            lines[-1] = f"{lines[-1]} {word}".strip()
            continue
        cut = [word[i : i + width] for i in range(0, len(word), width)]
        lines = [*lines, *cut] if lines[-1] else cut
    return lines
