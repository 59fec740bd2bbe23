"""The body itself as SVG: mat or pillow, contour, head, sheet and the few lines inside."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from rondel.drawing.figures import bodies
from rondel.drawing.figures.curves import Array, Contour, Run, number, path_data
from rondel.drawing.figures.hands import UNIT, open_palm
from rondel.drawing.figures.looks import BED, LINEN, LINEN_LINE, MAT, QUIET, SLEEVE, Look
from rondel.drawing.figures.views import BOX, Facing, View
from rondel.model.words import Position, Side

LINE = 2.2  # the contour's width in pixels


class Brush:
    """Draws contours of one view, side and look as SVG paths."""

    def __init__(self, view: View, side: Side, look: Look) -> None:
        self.view = view
        self.side = side
        self.look = look

    def data(self, contour: Contour, *, closed: bool = True) -> str:
        return path_data(self.view.contour_px(contour, self.side, self.look.shape), closed=closed)

    def shape(self, contour: Contour, fill: str, line: str, *, width: float = LINE) -> str:
        return (
            f'<path d="{self.data(contour)}" fill="{fill}" stroke="{line}" '
            f'stroke-width="{width}" stroke-linejoin="round"/>'
        )

    def hint(self, run: Run, *, width: float = 1.7, opacity: float = 0.75, dash: str = "") -> str:
        """Return an open line inside the body; a full one has the contour's own colour."""
        colour = self.look.paint.line if opacity >= 1 else self.look.paint.detail
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        return (
            f'<path d="{self.data((run,), closed=False)}" fill="none" '
            f'stroke="{colour}" stroke-width="{width}" stroke-linecap="round" '
            f'opacity="{opacity}"{dashes}/>'
        )

    def pair(self, run: Run, *, width: float = 1.7, opacity: float = 0.75) -> str:
        """Return an open line and its mirror image."""
        other = tuple((-x, y) for x, y in run)
        return self.hint(run, width=width, opacity=opacity) + self.hint(
            other, width=width, opacity=opacity
        )

    def skin(self, contour: Contour) -> str:
        return self.shape(contour, self.look.paint.skin, self.look.paint.line)


def _reflected(contour: Contour) -> Contour:
    return tuple(tuple((-x, y) for x, y in run) for run in contour)


def _loop(run: Run) -> Contour:
    return ((*run, run[0]),)


def _sheet(brush: Brush, contour: Contour, folds: tuple[Run, ...]) -> str:
    d = brush.data(contour)
    lines = "".join(
        f'<path d="{brush.data((fold,), closed=False)}" fill="none" stroke="{LINEN_LINE}" '
        'stroke-width="1.3" stroke-linecap="round" opacity="0.55"/>'
        for fold in folds
    )
    return (
        f'<path d="{d}" fill="{LINEN}" stroke="{LINEN_LINE}" stroke-width="{LINE}" '
        f'stroke-linejoin="round"/>{lines}'
    )


_HIP_FOLDS: tuple[Run, ...] = (
    ((-17.2, 59.4), (-12.0, 61.4), (-6.0, 63.0), (0.0, 63.4), (6.0, 63.0), (12.0, 61.4),
     (17.2, 59.4)),
    ((-14.8, 66.0), (-13.4, 70.0), (-13.8, 74.4)),
    ((14.8, 66.0), (13.4, 70.0), (13.8, 74.4)),
    ((1.2, 67.0), (0.5, 71.0), (0.9, 75.0)),
)  # fmt: skip
_CHEST_FOLDS: tuple[Run, ...] = (
    ((-16.6, 17.0), (-12.0, 15.8), (-6.0, 16.8), (0.0, 17.2), (6.0, 16.8), (12.0, 15.8),
     (16.6, 17.0)),
    ((-12.6, 26.0), (-11.4, 38.0), (-12.2, 50.0), (-13.0, 64.0)),
    ((12.6, 26.0), (11.4, 38.0), (12.2, 50.0), (13.0, 64.0)),
    ((1.0, 56.0), (0.2, 65.0), (0.8, 74.0)),
)  # fmt: skip


_PANEL = f'x="2" y="2" width="{BOX - 4:.0f}" height="{BOX - 4:.0f}" rx="26"'


def _panel() -> str:
    """Return the soft ground that everything lies on."""
    return f'<rect {_PANEL} fill="{MAT}"/>'


def panel_clip(name: str) -> str:
    """Return the clip path called `name` that keeps the body within its panel."""
    return f'<clipPath id="{name}"><rect {_PANEL}/></clipPath>'


def _pillow(brush: Brush, position: Position) -> str:
    if position not in (Position.PRONE, Position.SUPINE):
        return ""
    width, top, bottom = 14.5, -28.6, -3.6
    corner: Contour = (
        (
            (0.0, top), (width * 0.6, top - 0.2), (width * 0.94, top + 1.4),
            (width, (top + bottom) / 2), (width * 0.94, bottom - 1.6),
            (width * 0.6, bottom), (0.0, bottom - 0.2),
        ),
    )  # fmt: skip
    return brush.shape(corner + _mirror(corner), LINEN, LINEN_LINE)


def _mirror(half: Contour) -> Contour:
    return tuple(tuple((-x, y) for x, y in reversed(run)) for run in reversed(half))


def _ears(brush: Brush) -> str:
    ear = _loop(bodies.EAR)
    return brush.skin(ear) + brush.skin(_reflected(ear))


_NAPE_HAIR: Contour = (
    (
        (0.0, -26.2), (3.8, -25.6), (6.7, -22.9), (7.9, -18.8), (7.75, -15.0), (7.0, -11.4),
        (5.9, -8.8), (5.45, -7.2),
    ),
    ((5.45, -7.2), (4.4, -6.7), (2.4, -6.3), (0.0, -6.6)),
)  # fmt: skip


def _head_back(brush: Brush) -> str:
    hair = _NAPE_HAIR + _mirror(_NAPE_HAIR)
    paint = brush.look.paint
    strands: tuple[Run, ...] = (
        ((-0.4, -21.2), (-3.4, -19.4), (-5.0, -16.0), (-5.3, -12.6)),
        ((0.0, -20.4), (-0.9, -17.0), (-0.9, -13.2), (-0.3, -9.6)),
        ((0.5, -21.0), (3.2, -18.8), (4.5, -15.2), (4.5, -11.4)),
    )
    lines = "".join(brush.hint(run, width=1.4, opacity=0.32) for run in strands)
    return _ears(brush) + brush.shape(hair, paint.hair, paint.line) + lines


def _head_front(brush: Brush) -> str:
    paint = brush.look.paint
    lid: Run = ((2.0, -14.6), (3.2, -14.1), (4.6, -14.6))
    brow: Run = ((1.9, -17.0), (3.4, -17.6), (5.0, -16.9))
    nose: Run = ((0.5, -14.0), (1.15, -11.4), (0.4, -10.7), (-0.5, -10.8))
    mouth: Run = ((-1.7, -8.0), (0.0, -7.6), (1.7, -8.0))
    return (
        _ears(brush)
        + brush.skin(bodies.HEAD_FRONT)
        + brush.shape(bodies.HAIR_FRONT, paint.hair, paint.line)
        + brush.pair(lid, width=1.9, opacity=0.9)
        + brush.pair(brow, width=1.5, opacity=0.5)
        + brush.hint(nose, width=1.6, opacity=0.7)
        + brush.hint(mouth, width=1.8, opacity=0.85)
    )


def _fingers(brush: Brush) -> str:
    """Return the lines between the receiver's fingers, on both hands."""
    lines: tuple[Run, ...] = (
        ((36.5, 72.6), (37.3, 75.6), (38.2, 79.6)),
        ((38.1, 72.0), (39.0, 75.4), (39.8, 79.8)),
        ((39.5, 71.4), (40.4, 74.6), (41.0, 77.8)),
    )
    return "".join(brush.pair(run, width=1.3, opacity=0.6) for run in lines)


def _seat(brush: Brush) -> str:
    """Return the stool's cushion, which hides the legs of someone seated."""
    cushion: Contour = (
        (
            (0.0, 71.8), (10.0, 71.8), (18.0, 72.0), (21.6, 73.2), (22.6, 76.6), (21.8, 80.0),
            (18.0, 81.8), (10.0, 82.4), (0.0, 82.6),
        ),
    )  # fmt: skip
    post: Contour = (((0.0, 80.0), (18.4, 80.0)), ((18.4, 80.0), (18.6, 120.0), (0.0, 120.0)))
    legs = brush.shape(post + _mirror(post), MAT, MAT)
    return legs + brush.shape(cushion + _mirror(cushion), SLEEVE, QUIET)


_SPINE: Run = ((0.0, 1.0), (0.0, 20.0), (0.0, 40.0), (0.0, 50.0))


def _back(brush: Brush, position: Position) -> str:
    blade: Run = ((7.4, 9.2), (7.6, 14.4), (9.4, 19.8), (11.6, 20.4))
    dimple: Run = ((3.9, 51.2), (4.5, 51.9), (5.2, 51.6))
    crease: Run = ((6.8, 97.6), (9.6, 98.6), (12.6, 97.6))
    tendon: Run = ((9.6, 132.0), (9.4, 136.0), (9.6, 139.0))
    heel: Run = ((7.2, 144.8), (10.0, 143.4), (12.4, 144.8))
    toes: Run = ((7.0, 155.4), (9.6, 156.2), (12.8, 154.6))
    return (
        _pillow(brush, position)
        + brush.skin(bodies.BACK_BODY)
        + _fingers(brush)
        + brush.hint(_SPINE, width=2.0, opacity=0.6, dash="0.1 7")
        + brush.pair(blade, opacity=0.5)
        + brush.pair(dimple, opacity=0.5)
        + brush.pair(crease, opacity=0.55)
        + brush.pair(tendon, opacity=0.35)
        + brush.pair(heel, opacity=0.5)
        + brush.pair(toes, opacity=0.45)
        + _head_back(brush)
        + (_seat(brush) if position is Position.SEATED else "")
        + _sheet(brush, bodies.HIP_SHEET, _HIP_FOLDS)
    )


def _front(brush: Brush, position: Position) -> str:
    collar: Run = ((2.0, 4.2), (6.0, 3.0), (11.0, 2.6), (15.6, 3.0))
    notch: Run = ((-1.1, 4.6), (0.0, 5.4), (1.1, 4.6))
    knee: Run = ((7.4, 96.0), (9.6, 94.6), (12.0, 96.0), (12.4, 99.0), (9.8, 101.4), (7.4, 99.2))
    shin: Run = ((8.6, 106.0), (8.4, 116.0), (8.8, 126.0))
    toes: tuple[Run, ...] = (
        ((10.6, 153.4), (10.9, 155.0), (10.8, 156.6)),
        ((12.4, 153.0), (12.9, 154.6), (12.9, 156.2)),
        ((14.0, 152.0), (14.7, 153.6), (14.9, 155.2)),
    )
    neck: Run = ((4.4, -4.0), (3.4, 0.0), (1.8, 3.6))
    return (
        _pillow(brush, position)
        + brush.skin(bodies.FRONT_BODY)
        + _fingers(brush)
        + brush.pair(collar, opacity=0.6)
        + brush.hint(notch, opacity=0.5)
        + brush.pair(neck, opacity=0.3)
        + brush.pair(knee, opacity=0.5)
        + brush.pair(shin, opacity=0.3)
        + "".join(brush.pair(run, width=1.4, opacity=0.55) for run in toes)
        + _head_front(brush)
        + _sheet(brush, bodies.CHEST_SHEET, _CHEST_FOLDS)
    )


_LYING_FOLDS: tuple[Run, ...] = (
    ((17.6, 57.4), (10.0, 60.2), (0.0, 62.2), (-10.0, 60.2), (-17.0, 56.4)),
    ((14.0, 68.0), (8.0, 80.0), (6.0, 92.0)),
    ((4.0, 70.0), (-2.0, 82.0), (-4.0, 96.0)),
    ((-8.0, 72.0), (-11.0, 84.0), (-12.0, 96.0)),
)


def _side_arm(brush: Brush) -> str:
    """Return the arm along the flank: filled whole, lined only where it lies free."""
    paint = brush.look.paint
    fill = f'<path d="{brush.data(_loop(bodies.SIDE_ARM))}" fill="{paint.skin}"/>'
    return fill + brush.hint(bodies.SIDE_ARM, width=LINE, opacity=1.0)


def _bed(brush: Brush) -> str:
    """Return the bed's edge below someone lying on the side."""
    foot = brush.view.to_px(np.asarray([[-16.6, 20.0]]), brush.side, brush.look.shape)[0, 1]
    return (
        f'<rect x="0" y="{number(foot)}" width="{BOX:.0f}" height="{number(BOX - foot)}" '
        f'fill="{BED}"/>'
    )


def _lying(brush: Brush, position: Position) -> str:
    pillow: Run = (
        (-4.4, -31.0), (-3.6, -18.0), (-4.4, -4.6), (-9.0, -3.0), (-14.6, -3.6), (-17.0, -6.0),
        (-17.2, -17.0), (-17.0, -28.6), (-14.4, -31.6), (-8.6, -32.2),
    )  # fmt: skip
    blade: Run = ((7.4, 9.2), (7.6, 14.4), (9.4, 19.8), (11.6, 20.4))
    lower: Run = ((-7.2, 9.8), (-7.4, 14.4), (-9.0, 19.4))
    return (
        _bed(brush)
        + brush.shape(_loop(pillow), LINEN, LINEN_LINE)
        + brush.skin(bodies.SIDE_BODY)
        + brush.hint(_SPINE, width=2.0, opacity=0.6, dash="0.1 7")
        + brush.hint(blade, opacity=0.5)
        + brush.hint(lower, opacity=0.35)
        + _head_back(brush)
        + _side_arm(brush)
        + _sheet(brush, bodies.SIDE_SHEET, _LYING_FOLDS)
    )


def _ellipse_px(brush: Brush, x: float, y: float, rx: float, ry: float) -> str:
    centre: Array = brush.view.to_px(np.asarray([[x, y]]), brush.side, brush.look.shape)[0]
    k, paint = brush.view.px_per_cm, brush.look.paint
    return (
        f'<ellipse cx="{number(centre[0])}" cy="{number(centre[1])}" rx="{number(rx * k)}" '
        f'ry="{number(ry * k)}" fill="{paint.skin}" stroke="{paint.line}" '
        f'stroke-width="{LINE}"/>'
    )


def _behind_soles(brush: Brush) -> str:
    """Return what leads to the soles: the ankles of someone face down, else a blanket's mound."""
    if brush.view.is_prone:
        leg: Contour = (
            ((6.1, 7.0), (6.5, 12.0), (5.6, 20.0)),
            ((5.6, 20.0), (12.6, 20.0)),
            ((12.6, 20.0), (11.6, 12.0), (11.9, 7.0)),
        )
        return brush.skin(leg) + brush.skin(_reflected(leg))
    mound: Run = (
        (0.0, -8.8), (6.0, -8.6), (11.0, -6.6), (14.6, -1.0), (16.4, 6.0), (18.0, 12.9),
        (9.0, 13.3), (0.0, 13.2), (-9.0, 13.3), (-18.0, 12.9), (-16.4, 6.0), (-14.6, -1.0),
        (-11.0, -6.6), (-6.0, -8.6),
    )  # fmt: skip
    return brush.shape(_loop(mound), LINEN, LINEN_LINE)


def _soles(brush: Brush, position: Position) -> str:
    parts: list[str] = [_behind_soles(brush)]
    for flip in (1.0, -1.0):
        sole: Run = tuple((flip * x, y) for x, y in bodies.SOLE)
        parts.extend(
            _ellipse_px(brush, flip * x, y, rx, ry) for x, y, rx, ry in reversed(bodies.TOES)
        )
        parts.append(brush.skin(_loop(sole)))
    ball: Run = ((5.4, -5.4), (6.6, -3.8), (9.4, -3.4), (12.0, -3.4))
    arch: Run = ((6.9, 0.8), (7.7, 3.4), (7.4, 6.6))
    heel: Run = ((6.9, 9.2), (9.2, 8.2), (11.2, 9.0))
    parts.extend(brush.pair(run, opacity=0.4) for run in (ball, arch, heel))
    return "".join(parts)


def _palms(brush: Brush, position: Position) -> str:
    x, y = bodies.PALM_WRIST
    k = brush.view.px_per_cm
    hand = open_palm(brush.look.paint, line_cm=LINE / k)
    parts = []
    outward = 1.0 if brush.view.is_prone else -1.0
    for flip in (1.0, -1.0):
        at = brush.view.to_px(np.asarray([[flip * x, y]]), brush.side, brush.look.shape)[0]
        mirror = flip * outward
        parts.append(
            f'<g transform="translate({number(at[0])} {number(at[1])}) rotate(180) '
            f'scale({mirror * -k / UNIT:.3f} {k / UNIT:.3f})">{hand}</g>'
        )
    return "".join(parts)


_BODY_OF: dict[Facing, Callable[[Brush, Position], str]] = {
    Facing.BACK: _back,
    Facing.FRONT: _front,
    Facing.LYING: _lying,
    Facing.SOLES: _soles,
    Facing.PALMS: _palms,
}


def body_svg(view: View, side: Side, position: Position, look: Look) -> str:
    """Return the body in this view, on its panel, without region, path or hands."""
    return _panel() + _BODY_OF[view.facing](Brush(view, side, look), position)
