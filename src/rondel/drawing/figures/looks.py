"""How the receiver and the giver look: tones and body shapes, none of them a default human."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from rondel.drawing.figures.curves import Array

PAPER = "#fbf8f1"
INK = "#22303c"
LINEN = "#f4efe2"  # the sheet
LINEN_LINE = "#8d8065"
MAT = "#f1e9d8"
BED = "#e5d8bd"
QUIET = "#4f6b7c"
SLEEVE = "#dfe6ea"
PEAK = "#a63d2f"


class SkinTone(StrEnum):
    """Six tones from light to deep."""

    LIGHT = "light"
    FAIR = "fair"
    MEDIUM = "medium"
    TAN = "tan"
    BROWN = "brown"
    DEEP = "deep"


class BodyShape(StrEnum):
    """Four builds; none says man or woman."""

    SLIGHT = "slight"
    MEDIUM = "medium"
    BROAD = "broad"
    FULL = "full"


@dataclass(frozen=True, slots=True, kw_only=True)
class Paint:
    """The colours of one tone: skin, contour, lines inside, a soft shade, hair, region tint."""

    skin: str
    line: str
    detail: str
    shade: str
    hair: str
    tint: str
    tint_opacity: float


PAINTS = {
    SkinTone.LIGHT: Paint(
        skin="#f6dfcd", line="#8a5a44", detail="#8a5a44",
        shade="#e3bda3", hair="#b08a5f", tint="#c9822f", tint_opacity=0.36,
    ),
    SkinTone.FAIR: Paint(
        skin="#edcbae", line="#80503a", detail="#80503a",
        shade="#d6a684", hair="#8a6344", tint="#bd6f1e", tint_opacity=0.38,
    ),
    SkinTone.MEDIUM: Paint(
        skin="#d9ab82", line="#6b402a", detail="#6b402a",
        shade="#bd895e", hair="#59402e", tint="#a3560f", tint_opacity=0.40,
    ),
    SkinTone.TAN: Paint(
        skin="#bd8a60", line="#54301d", detail="#54301d",
        shade="#9c6b44", hair="#43302a", tint="#f7dfa6", tint_opacity=0.50,
    ),
    SkinTone.BROWN: Paint(
        skin="#8f6040", line="#3a2114", detail="#d0a37c",
        shade="#734a2f", hair="#2f2320", tint="#f3d595", tint_opacity=0.46,
    ),
    SkinTone.DEEP: Paint(
        skin="#633f2b", line="#24130b", detail="#b08562",
        shade="#4c2e1e", hair="#1f1817", tint="#f0cd88", tint_opacity=0.44,
    ),
}  # fmt: skip

_AWAY = {
    SkinTone.LIGHT: SkinTone.TAN,
    SkinTone.FAIR: SkinTone.TAN,
    SkinTone.MEDIUM: SkinTone.BROWN,
    SkinTone.TAN: SkinTone.DEEP,
    SkinTone.BROWN: SkinTone.FAIR,
    SkinTone.DEEP: SkinTone.MEDIUM,
}

# Breadth at heights below the seventh neck vertebra, in centimetres, against the medium body.
_HEIGHTS = (-8.0, 0.0, 10.0, 28.0, 45.0, 62.0, 80.0, 100.0, 140.0)
_BREADTHS = {
    BodyShape.SLIGHT: (1.0, 0.95, 0.93, 0.92, 0.92, 0.94, 0.93, 0.94, 0.97),
    BodyShape.MEDIUM: (1.0,) * 9,
    BodyShape.BROAD: (1.0, 1.08, 1.11, 1.10, 1.08, 1.04, 1.04, 1.04, 1.02),
    BodyShape.FULL: (1.0, 1.05, 1.08, 1.16, 1.22, 1.18, 1.14, 1.10, 1.05),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What a teacher chooses once: the receiver's tone and build, and the giver's tone.

    `giver` None takes a tone that stands out from the receiver's. `accent` is the colour of
    the path, ink unless the page gives this passage its one warm colour.
    """

    skin: SkinTone = SkinTone.FAIR
    shape: BodyShape = BodyShape.MEDIUM
    giver: SkinTone | None = None
    accent: str = INK

    @property
    def paint(self) -> Paint:
        return PAINTS[self.skin]

    @property
    def giver_paint(self) -> Paint:
        return PAINTS[self.giver or _AWAY[self.skin]]


def breadth_at(shape: BodyShape, heights_cm: Array) -> Array:
    """Return the breadth factors of `shape` at `heights_cm` below the seventh neck vertebra."""
    return np.asarray(np.interp(heights_cm, _HEIGHTS, _BREADTHS[shape]), dtype=np.float64)
