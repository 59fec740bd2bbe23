"""Curves that can be cut at a line's end: cubic pieces that move evenly from left to right."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rondel.drawing.page_svg import num


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A cubic over [x0, x1] whose x grows evenly, so cutting at x is cutting at its parameter.

    `ys` are the four control heights.
    """

    x0: float
    x1: float
    ys: tuple[float, float, float, float]

    def cut(self, left: float, right: float) -> Piece | None:
        """Return the part between `left` and `right`, or None where there is none."""
        a, b = max(left, self.x0), min(right, self.x1)
        if b - a < 1e-9:
            return None
        span = self.x1 - self.x0
        ys = _between(self.ys, (a - self.x0) / span, (b - self.x0) / span)
        return Piece(x0=a, x1=b, ys=ys)

    def mirrored(self, about: float) -> Piece:
        """Return the piece turned over at the height `about`."""
        a, b, c, d = (2 * about - y for y in self.ys)
        return Piece(x0=self.x0, x1=self.x1, ys=(a, b, c, d))

    def moved(self, dx: float, dy: float) -> Piece:
        a, b, c, d = (y + dy for y in self.ys)
        return Piece(x0=self.x0 + dx, x1=self.x1 + dx, ys=(a, b, c, d))


Curve = tuple[Piece, ...]


def _between(
    ys: tuple[float, float, float, float], s: float, t: float
) -> tuple[float, float, float, float]:
    """Return the control heights of the part from parameter `s` to `t` (blossoming)."""

    def blossom(u: float, v: float, w: float) -> float:
        row = list(ys)
        for at in (u, v, w):
            row = [row[i] * (1 - at) + row[i + 1] * at for i in range(len(row) - 1)]
        return row[0]

    return blossom(s, s, s), blossom(s, s, t), blossom(s, t, t), blossom(t, t, t)


def rise_and_return(x0: float, top_x: float, x1: float, base: float, reach: float) -> Curve:
    """Return a smooth arc from `base` out by `reach` at `top_x` and home again."""
    top = base + reach
    near = base + reach * 0.56
    return (
        Piece(x0=x0, x1=top_x, ys=(base, near, top, top)),
        Piece(x0=top_x, x1=x1, ys=(top, top, near, base)),
    )


def swell(x0: float, top_x: float, x1: float, middle: float, half: float) -> Curve:
    """Return the upper edge of a drop that swells slowly to `half` at `top_x` and lets go."""
    top = middle - half
    return (
        Piece(x0=x0, x1=top_x, ys=(middle, middle - half * 0.12, top, top)),
        Piece(x0=top_x, x1=x1, ys=(top, top, middle - half * 0.75, middle - half * 0.25)),
    )


def tremble(x0: float, x1: float, middle: float, half: float, wave: float) -> Curve:
    """Return a small wave about `middle`, in whole waves of about `wave`, from x0 to x1."""
    count = max(1, round((x1 - x0) / wave)) * 2
    step = (x1 - x0) / count
    found = []
    for i in range(count):
        # 4/3 of the height: a cubic with equal inner controls peaks at 3/4 of them.
        out = middle + (half if i % 2 else -half) * 4 / 3
        left, right = x0 + i * step, x0 + (i + 1) * step
        found.append(Piece(x0=left, x1=right, ys=(middle, out, out, middle)))
    return tuple(found)


def cut(curve: Curve, left: float, right: float) -> Curve:
    """Return the part of `curve` between `left` and `right`."""
    parts = (piece.cut(left, right) for piece in curve)
    return tuple(p for p in parts if p is not None)


def mirrored(curve: Curve, about: float) -> Curve:
    return tuple(p.mirrored(about) for p in curve)


def as_path(curve: Curve, *, joined: bool = False) -> str:
    """Return path data that draws `curve` from left to right; `joined` goes on from the pen."""
    if not curve:
        return ""
    x, y = curve[0].x0, curve[0].ys[0]
    start = f"{'L' if joined else 'M'}{num(x)} {num(y)}"
    return start + "".join(_cubic(p) for p in curve)


def as_path_back(curve: Curve) -> str:
    """Return path data that goes on from the pen and draws `curve` from right to left."""
    if not curve:
        return ""
    last = curve[-1]
    backwards = (
        Piece(x0=p.x1, x1=p.x0, ys=(p.ys[3], p.ys[2], p.ys[1], p.ys[0])) for p in reversed(curve)
    )
    return f"L{num(last.x1)} {num(last.ys[3])}" + "".join(_cubic(p) for p in backwards)


def _cubic(p: Piece) -> str:
    third = (p.x1 - p.x0) / 3
    points: Iterable[float] = (p.x0 + third, p.ys[1], p.x1 - third, p.ys[2], p.x1, p.ys[3])
    return "C" + " ".join(num(v) for v in points)
