"""How wide words are in the bundled serif, and where a sentence is broken.

Widths are sums of advance widths without kerning; whoever draws the words states the width
(`textLength`), so that they keep it in any viewer and any font.
"""

from __future__ import annotations

from enum import StrEnum

from rondel.drawing import lettering_widths as widths

FAMILY = "'Source Serif Pro','Source Serif 4',Georgia,'DejaVu Serif',serif"

#: Heights above and below the baseline, as parts of the size: the tallest letters with their
#: accents (b, d, h, f, Å) and the deepest descenders (g, p, y) of Source Serif.
ASCENT = 0.76
DESCENT = 0.25


class Face(StrEnum):
    """The four faces that are bundled."""

    REGULAR = "regular"
    ITALIC = "italic"
    SEMIBOLD = "semibold"
    SEMIBOLD_ITALIC = "semibold italic"

    @property
    def is_italic(self) -> bool:
        return self in (Face.ITALIC, Face.SEMIBOLD_ITALIC)

    @property
    def is_bold(self) -> bool:
        return self in (Face.SEMIBOLD, Face.SEMIBOLD_ITALIC)


def _by_letter(table: dict[int, str]) -> dict[str, int]:
    return {letter: width for width, letters in table.items() for letter in letters}


_ADVANCES: dict[Face, dict[str, int]] = {
    Face.REGULAR: _by_letter(widths.REGULAR),
    Face.ITALIC: _by_letter(widths.ITALIC),
    Face.SEMIBOLD: _by_letter(widths.SEMIBOLD),
    Face.SEMIBOLD_ITALIC: _by_letter(widths.SEMIBOLD_ITALIC),
}

#: A letter that the table does not know may be as wide as it is high.
UNKNOWN_ADVANCE = 1000


def unknown_letters(words: str) -> str:
    """Return the letters of `words` that the bundled typeface lacks, each once, in order."""
    known = _ADVANCES[Face.REGULAR]
    return "".join(dict.fromkeys(x for x in words if x not in known and not x.isspace()))


def width_of(words: str, face: Face, size: float) -> float:
    """Return the width of `words` set in `face` at `size`, in the unit of `size`."""
    known = _ADVANCES[face]
    return sum([known.get(letter, UNKNOWN_ADVANCE) for letter in words]) * size / 1000


def broken_into_lines(words: str, face: Face, size: float, room: float) -> tuple[str, ...]:
    """Return `words` as lines no wider than `room`; a word wider than it is cut into pieces."""
    lines: list[str] = []
    for word in words.split():
        for piece in _pieces(word, face, size, room):
            longer = f"{lines[-1]} {piece}" if lines else piece
            if lines and width_of(longer, face, size) <= room:
                lines[-1] = longer
            else:
                lines.append(piece)
    return tuple(lines)


def _pieces(word: str, face: Face, size: float, room: float) -> list[str]:
    """Return `word` in pieces no wider than `room`, each of one letter at least."""
    found = [""]
    for letter in word:
        if found[-1] and width_of(found[-1] + letter, face, size) > room:
            found.append("")
        found[-1] += letter
    return found


def evenly_broken(words: str, face: Face, size: float, room: float) -> tuple[str, ...]:
    """Return `words` in as few lines as `room` allows, all about equally long."""
    fewest = broken_into_lines(words, face, size, room)
    best = fewest
    tried = room
    while tried > room / 2:
        tried -= size
        lines = broken_into_lines(words, face, size, tried)
        if len(lines) > len(fewest):
            return best
        best = lines
    return best
