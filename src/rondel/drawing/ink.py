"""The colours of the page, and how thick a line of a given pressure is.

Shape comes first and colour second: every difference shown by colour is also one of shape.
"""

from __future__ import annotations

PAPER = "#fbf8f1"
INK = "#22303c"
NOTES = "#6d624f"
TINT = "#efe4cc"
PEAK = "#a63d2f"  # the one warm accent, kept for the peak
BLUE = "#4f6b7c"  # stillness, and what is announced
HAIR = "#ddd3bf"  # the line that strokes are written on; a guide only, like ruled paper

#: Line widths of pressure 0 to 5, in points, on the full page.
LINE_WIDTHS = (0.9, 1.1, 1.8, 2.6, 3.4, 4.2)

#: Half the height of a slow press at its deepest, pressure 0 to 5, in points.
SWELL_HEIGHTS = (0.8, 1.3, 2.1, 2.9, 3.8, 4.6)

#: The sound of a track as a band: quiet, yet 3:1 on paper and on the tint.
BAND = "#71828e"
