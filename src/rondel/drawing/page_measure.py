"""The measures of a page: sheets of paper, and the heights of what stands on a line. Points."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet of paper."""

    name: str
    width: float
    height: float


#: ISO 216 A4, 210 mm × 297 mm, and ANSI A (US Letter), 8.5 in × 11 in; 72 points an inch.
A4 = Paper(name="a4", width=595.28, height=841.89)
LETTER = Paper(name="us-letter", width=612.0, height=792.0)

#: The width of the slip, the page for a narrow screen: there its names, 8.6 points high, come out
#: at 10 to 13 pixels on screens 320 to 390 pixels wide, without anything to scroll sideways.
SLIP_WIDTH = 288.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """Heights from a line's baseline, y downwards: marks, names above, beats and wedges below."""

    tall: float = 9.0  # marks stay within this, but for half the width of their line
    weight: float = 1.0
    tint: float = 10.6
    names: float = -13.6  # baseline of the lowest row of names
    name_size: float = 8.6
    remark_size: float = 7.4
    beats: float = 12.8
    bar_dot: float = 0.95  # radius of the dot on the first beat of a bar
    beat_dot: float = 0.55
    wedge: float = 14.0  # upper edge of wedges, just under the beats
    wedge_height: float = 2.8
    under: float = 15.4  # the rule under the peak
    pitch: float = 37.4  # the least from one baseline to the next
    widest_pitch: float = 46.0


PAGE = Measure()

#: The small map: no names, everything nearer.
MAP = Measure(
    tall=5.0,
    weight=0.55,
    tint=6.2,
    names=0.0,
    beats=7.6,
    bar_dot=0.0,
    beat_dot=0.0,
    wedge=8.4,
    wedge_height=1.8,
    under=8.8,
    pitch=12.0,
    widest_pitch=26.0,
)

MARGIN_TOP = 28.0
MARGIN_BOTTOM = 24.0
MARGIN_RIGHT = 32.0
TIMES_RIGHT = 58.0  # where the times in the margin end
LINES_LEFT = 66.0  # where the lines begin
