"""A plot of names: a dot for how well each does, with the interval that it surely lies in."""

from __future__ import annotations

from collections.abc import Sequence

from rondel.drawing.figures.looks import INK, LINEN_LINE, PAPER
from rondel.drawing.page_svg import escaped, num, tag
from rondel.model.name_trials import Mark

#: In units that are pixels on a narrow screen.
WIDTH, LEFT, RIGHT = 300.0, 8.0, 292.0
ROW, TOP, FOOT = 46.0, 6.0, 30.0
LETTER, SMALL = 15.0, 13.0
NOTES = "#665b48"
#: Longer names end in dots here; the words beside the plot have them whole.
MOST_LETTERS = 34


def draw_marks(
    marks: Sequence[Mark],
    *,
    title: str,
    desc: str,
    ends: tuple[str, str],
    name: str,
    now: str = "",
) -> str:
    """Return SVG text, `marks` from above to below as they come.

    `ends` says what nothing and all mean; `now` is the name in use, which has a ring round its dot.
    Ids begin with `name`, so that several plots may stand on a page.
    """
    height = TOP + ROW * len(marks) + FOOT
    rows = "".join(_row(m, TOP + ROW * i, m.name == now) for i, m in enumerate(marks))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="plot" role="img" '
        f'viewBox="0 0 {num(WIDTH)} {num(height)}" '
        f'aria-labelledby="{name}-title {name}-desc">'
        f'<title id="{name}-title">{escaped(title)}</title>'
        f'<desc id="{name}-desc">{escaped(desc)}</desc>'
        f"{_scale(height - FOOT, ends)}{rows}</svg>"
    )


def _x(share: float) -> float:
    return LEFT + (RIGHT - LEFT) * share


def _scale(bottom: float, ends: tuple[str, str]) -> str:
    lines = "".join(
        tag("line", x1=_x(s), x2=_x(s), y1=TOP, y2=bottom, stroke=LINEN_LINE,
            stroke_width=1.2 if s in (0.0, 0.5, 1.0) else 0.5)
        for s in (0.0, 0.25, 0.5, 0.75, 1.0)
    )  # fmt: skip
    words = (
        _text(ends[0], LEFT, bottom + 18, "start", SMALL, NOTES)
        + _text("50", _x(0.5), bottom + 18, "middle", SMALL, NOTES)
        + _text(ends[1], RIGHT, bottom + 18, "end", SMALL, NOTES)
    )
    return lines + words


def _row(mark: Mark, top: float, is_now: bool) -> str:
    y = top + 32
    shown = mark.name
    if len(shown) > MOST_LETTERS:
        shown = shown[: MOST_LETTERS - 1] + "…"
    low, high = _x(mark.low), _x(mark.high)
    caps = "".join(
        tag("line", x1=x, x2=x, y1=y - 5, y2=y + 5, stroke=INK, stroke_width=2.0)
        for x in (low, high)
    )
    ring = ""
    if is_now:
        ring = tag("circle", cx=_x(mark.share), cy=y, r=8.5, fill=PAPER, stroke=INK,
                   stroke_width=1.6)  # fmt: skip
    return (
        _text(shown, LEFT + 4, top + 17, "start", LETTER, INK, is_haloed=True)
        + tag("line", x1=low, x2=high, y1=y, y2=y, stroke=INK, stroke_width=2.0)
        + caps
        + ring
        + tag("circle", cx=_x(mark.share), cy=y, r=5.0, fill=INK)
    )


def _text(
    words: str, x: float, y: float, anchor: str, size: float, fill: str, *, is_haloed: bool = False
) -> str:
    """Return words; with a halo of paper, lines of the scale do not cross them."""
    halo = f' stroke="{PAPER}" stroke-width="4" paint-order="stroke"' if is_haloed else ""
    return (
        f'<text x="{num(x)}" y="{num(y)}" text-anchor="{anchor}" font-size="{num(size)}" '
        f'fill="{fill}"{halo}>{escaped(words)}</text>'
    )
