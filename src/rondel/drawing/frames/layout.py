"""Where things stand in a frame of 1280 × 720, and how large.

Measured for a phone held at arm's length: names are at least 44 pixels high, all other words at
least 28. The lowest 110 pixels in the middle stay empty of the figure, because players put
captions there.
"""

from __future__ import annotations

from typing import NamedTuple

WIDTH, HEIGHT, FRAMES_PER_SECOND = 1280, 720, 25


class Box(NamedTuple):
    """A box of the frame in pixels."""

    x: int
    y: int
    width: int
    height: int


#: The left leaf, with the figure; it is tinted in the refrain, as the page is.
LEAF = Box(0, 0, 664, HEIGHT)
#: The figure's own drawing is 400 × 400. It ends above the place of captions.
FIGURE = Box(30, 42, 552, 552)
FIGURE_CORNER = 36
FIGURE_SCALE = FIGURE.width / 400

#: The column that words keep to, and the parts of the frame in which they are drawn: above the
#: small page, or, where there is none, in its place too. Smaller parts are drawn faster.
COLUMN = Box(696, 42, 554, 556)
WORDS = Box(688, 40, 568, 436)
ALL_WORDS = Box(688, 40, 568, 568)

#: The landing mark: a ring that is always there where strokes land, and a disc in it that is full
#: in the frame nearest to the landing and gone LANDING_FRAMES later. To find landings in a
#: finished video, take the mean luma of the square of 16 pixels round LANDING_CENTRE: it falls
#: sharply in the landing frame. The second mark belongs to the quick strokes on top, where a peak
#: has two layers.
LANDING_CENTRE = (623, 76)
LANDING_RADIUS = 16
LANDING_FRAMES = 8
OVER_CENTRE = (623, 130)

#: Where the rings are drawn.
RINGS = Box(600, 52, 46, 102)

NEXT_BASELINE = 456
MAP = Box(688, 480, 566, 124)

#: A change of still fades for this many frames, all before the change itself: the new passage
#: stands whole in the frame in which it begins.
FADE_FRAMES = 10
