"""How long words take to say, guessed on the safe side.

Fitted to the bundled voice at its calm pace, over every cue of many routines, so that the guess is
never shorter than the speech (tests measure it). A teacher's own recording may be slower: then
she is told.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

SECONDS_AT_LEAST: Final = 0.7
SECONDS_A_CHARACTER: Final = 0.0825
SECONDS_A_STOP: Final = 0.3  # at a full stop, question mark or colon inside the cue
SECONDS_A_COMMA: Final = 0.12

#: Words end this long before the change they announce, and stand this far apart at least.
SECONDS_BEFORE_CHANGE: Final = 0.5
SECONDS_BETWEEN: Final = 1.0


def estimate_seconds(text: str, a_character: float = SECONDS_A_CHARACTER) -> float:
    """Return a length in seconds within which the bundled voice surely says `text`.

    `a_character` are the seconds that a letter takes in the language of `text`.
    """
    inner = text.rstrip(".?! ")
    stops = sum(inner.count(mark) for mark in ".?!:")
    return (
        SECONDS_AT_LEAST
        + a_character * len(text)
        + SECONDS_A_STOP * stops
        + SECONDS_A_COMMA * inner.count(",")
    )


def whole_beats_below(beat: float, step: Fraction = Fraction(1, 2)) -> Fraction:
    """Return the last multiple of `step` that is not after `beat`."""
    return step * int(Fraction(beat) / step + Fraction(1, 10**9))
