"""The shapes that a video comes in, and how a drawn frame is set anew for each.

A frame is drawn wide. For a tall one the leaf with the figure stands above the column of words,
at their own size; for a square one the whole frame is a little smaller, on paper.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from rondel.drawing.frames.layout import ALL_WORDS, HEIGHT, LEAF, WIDTH, Box


class Shape(StrEnum):
    """16 to 9, as a screen lies; 9 to 16, as a phone is held; as wide as high."""

    WIDE = "wide"
    TALL = "tall"
    SQUARE = "square"


SIZES = MappingProxyType(
    {Shape.WIDE: (WIDTH, HEIGHT), Shape.TALL: (HEIGHT, WIDTH), Shape.SQUARE: (1080, 1080)}
)
"""Width and height in pixels; all even, for colour is kept by 2 x 2 pixels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A part of the wide frame, and the box that it fills in another shape. All numbers even."""

    part: Box
    box: Box


def _settings() -> dict[Shape, tuple[Setting, ...]]:
    side = SIZES[Shape.SQUARE][0]
    high = 2 * round(HEIGHT * side / WIDTH / 2)
    figure = Box(LEAF.x, 24, LEAF.width, 620)
    tall = SIZES[Shape.TALL][0]
    words = Box(*ALL_WORDS)
    middle = (tall - words.width) // 4 * 2
    return {
        Shape.WIDE: (),
        Shape.TALL: (
            Setting(part=figure, box=Box((tall - figure.width) // 2, 20, *figure[2:])),
            Setting(part=words, box=Box(middle, 660, *words[2:])),
        ),
        Shape.SQUARE: (
            Setting(part=Box(0, 0, WIDTH, HEIGHT), box=Box(0, (side - high) // 4 * 2, side, high)),
        ),
    }


SETTINGS = MappingProxyType(_settings())
"""What of a drawn frame goes where; nothing for the shape that it is drawn in."""
