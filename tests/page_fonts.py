"""What the fonts themselves say, read here from their files and by nothing of the project.

OpenType 1.9 (ISO/IEC 14496-22): tables `cmap` (format 4), `hmtx`, `loca`, `glyf`.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

FOLDER = Path(str(files("rondel") / "data" / "fonts"))


@dataclass(frozen=True)
class Font:
    """Advance widths and ink heights of letters, in parts of the size."""

    advances: dict[str, float]
    heights: dict[str, tuple[float, float]]

    def width(self, text: str, size: float) -> float:
        return sum(self.advances[c] for c in text) * size

    def extent(self, text: str, size: float) -> tuple[float, float]:
        """Return how far the ink goes below and above the baseline."""
        inked = [self.heights[c] for c in text if c in self.heights]
        return min(h[0] for h in inked) * size, max(h[1] for h in inked) * size


def read_font(name: str) -> Font:
    """Read one of the bundled fonts: Regular, It, Semibold, SemiboldIt."""
    data = (FOLDER / f"SourceSerifPro-{name}.ttf").read_bytes()
    count = struct.unpack(">H", data[4:6])[0]
    tables = {
        data[12 + 16 * i : 16 + 16 * i].decode(): struct.unpack(
            ">I", data[20 + 16 * i : 24 + 16 * i]
        )[0]
        for i in range(count)
    }

    def short(at: int, form: str = "H") -> int:
        return int(struct.unpack(f">{form}", data[at : at + 2])[0])

    units = short(tables["head"] + 18)
    long_offsets = short(tables["head"] + 50) == 1
    metrics = short(tables["hhea"] + 34)

    def advance(glyph: int) -> float:
        return short(tables["hmtx"] + 4 * min(glyph, metrics - 1)) / units

    def offset(glyph: int) -> int:
        if long_offsets:
            at = tables["loca"] + 4 * glyph
            return int(struct.unpack(">I", data[at : at + 4])[0])
        return 2 * short(tables["loca"] + 2 * glyph)

    glyphs = _glyphs(data, tables["cmap"], short)
    heights = {}
    for letter, glyph in glyphs.items():
        here = offset(glyph)
        if offset(glyph + 1) > here:
            at = tables["glyf"] + here
            heights[letter] = short(at + 4, "h") / units, short(at + 8, "h") / units
    return Font(advances={c: advance(g) for c, g in glyphs.items()}, heights=heights)


def _glyphs(data: bytes, cmap: int, short) -> dict[str, int]:  # type: ignore[no-untyped-def]
    for i in range(short(cmap + 2)):
        platform = short(cmap + 4 + 8 * i)
        at = cmap + struct.unpack(">I", data[cmap + 8 + 8 * i : cmap + 12 + 8 * i])[0]
        if platform == 3 and short(at) == 4:
            return _format_4(at, short)
    raise AssertionError("the font has no format 4 map of letters")


def _format_4(at: int, short) -> dict[str, int]:  # type: ignore[no-untyped-def]
    found: dict[str, int] = {}
    segments = short(at + 6) // 2
    ends, starts = at + 14, at + 16 + 2 * segments
    deltas, ranges = starts + 2 * segments, starts + 4 * segments
    for k in range(segments):
        delta, reach = short(deltas + 2 * k), short(ranges + 2 * k)
        for code in range(short(starts + 2 * k), short(ends + 2 * k) + 1):
            if reach:
                entry = short(ranges + 2 * k + reach + 2 * (code - short(starts + 2 * k)))
                glyph = (entry + delta) & 0xFFFF if entry else 0
            else:
                glyph = (code + delta) & 0xFFFF
            if glyph and code != 0xFFFF:
                found[chr(code)] = glyph
    return found
