"""Smooth curves through points, and what can be measured on them.

A contour is a row of runs. Inside a run the curve is smooth; where one run ends and the next
begins it may turn a corner. Points are pairs of floats in any unit.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]
Run = tuple[Point, ...]
Contour = tuple[Run, ...]
Array = NDArray[np.float64]

TENSION = 0.36  # of the shorter neighbouring chord; more would swell between uneven points


def mirrored(run: Run, axis: float = 0.0) -> Run:
    """Return `run` mirrored about the vertical line x = `axis`, in reversed order."""
    return tuple((2 * axis - x, y) for x, y in reversed(run))


def symmetric(half: Contour) -> Contour:
    """Return the closed contour made of `half` and its mirror image; both ends lie on x = 0."""
    return half + tuple(mirrored(run) for run in reversed(half))


def _tangents(points: Array, closed: bool) -> Array:
    before = np.roll(points, 1, axis=0)
    after = np.roll(points, -1, axis=0)
    along = after - before
    size = np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    tangents: Array = along / size
    if not closed and len(points) > 2:
        first = points[1] - points[0]
        last = points[-1] - points[-2]
        tangents[0] = 2 * first / max(float(np.linalg.norm(first)), 1e-9) - tangents[1]
        tangents[-1] = 2 * last / max(float(np.linalg.norm(last)), 1e-9) - tangents[-2]
        for end in (0, -1):
            tangents[end] /= max(float(np.linalg.norm(tangents[end])), 1e-9)
    elif not closed:
        chord = points[-1] - points[0]
        tangents[:] = chord / max(float(np.linalg.norm(chord)), 1e-9)
    return tangents


def bezier(run: Sequence[Point] | Array, *, closed: bool = False) -> Array:
    """Return the cubic pieces through the points of `run`, shape (pieces, 4, 2)."""
    points = np.asarray(run, dtype=np.float64)
    if len(points) < 2:
        raise ValueError("a curve needs two points")
    tangents = _tangents(points, closed)
    ends = np.roll(points, -1, axis=0) if closed else points[1:]
    starts = points if closed else points[:-1]
    turns = np.roll(tangents, -1, axis=0) if closed else tangents[1:]
    chords = np.linalg.norm(ends - starts, axis=1, keepdims=True) * TENSION
    leads = tangents if closed else tangents[:-1]
    return np.stack([starts, starts + leads * chords, ends - turns * chords, ends], axis=1)


def pieces_of(contour: Contour) -> Array:
    """Return the cubic pieces of all runs, one after the other."""
    return np.concatenate([bezier(run) for run in contour])


def sampled(pieces: Array, per_piece: int = 12) -> Array:
    """Return points along the pieces, shape (pieces × per_piece + 1, 2)."""
    t = np.linspace(0.0, 1.0, per_piece, endpoint=False)[None, :, None]
    a, b, c, d = (pieces[:, i, None, :] for i in range(4))
    points = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
    return np.concatenate([points.reshape(-1, 2), pieces[-1:, 3, :]])


def number(value: float) -> str:
    """Return `value` for a drawing: one decimal at most, no minus zero."""
    text = f"{value:.1f}"
    text = text[:-2] if text.endswith(".0") else text
    return "0" if text == "-0" else text


def path_data(pieces: Array, *, closed: bool = False) -> str:
    """Return the pieces as the `d` of an SVG path, all commands absolute."""
    words = [f"M{number(pieces[0, 0, 0])} {number(pieces[0, 0, 1])}"]
    words.extend("C" + " ".join(number(v) for v in piece[1:].ravel()) for piece in pieces)
    return "".join(words) + ("Z" if closed else "")


def line_data(points: Array, *, closed: bool = False) -> str:
    """Return a polyline as the `d` of an SVG path."""
    words = [f"{number(x)} {number(y)}" for x, y in points]
    return "M" + "L".join(words) + ("Z" if closed else "")


def length_of(points: Array) -> float:
    """Return the length of a polyline."""
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def at_shares(points: Array, shares: Array) -> Array:
    """Return the points of a polyline at `shares` (0 to 1) of its length, shape (n, 2)."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    reach = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = np.clip(shares, 0.0, 1.0) * reach[-1]
    x = np.interp(wanted, reach, points[:, 0])
    y = np.interp(wanted, reach, points[:, 1])
    return np.stack([x, y], axis=-1)


def are_inside(points: Array, polygon: Array) -> NDArray[np.bool_]:
    """Tell for each point whether it lies inside `polygon`, by counting crossings."""
    x, y = points[:, 0][:, None], points[:, 1][:, None]
    ends = np.roll(polygon, -1, axis=0)
    spans = (polygon[:, 1] > y) != (ends[:, 1] > y)
    rise = ends[:, 1] - polygon[:, 1]
    safe = np.where(rise == 0, 1e-12, rise)
    meets = polygon[:, 0] + (y - polygon[:, 1]) / safe * (ends[:, 0] - polygon[:, 0])
    inside: NDArray[np.bool_] = (spans & (x < meets)).sum(axis=1) % 2 == 1
    return inside
