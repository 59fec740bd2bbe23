"""Strokes in one kind of motion: where its signal turns, pauses and stalls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rondel.watching.moving import LAGS, Seconds
from rondel.watching.signals import RATE, Numbers, Signals, smoothed

#: A stroke's part that stands out: this share of what is usual for it.
_STRONG = 0.25
#: Less than this share of the speed on both sides of it is a stall (common practice, no source).
STALL = 0.3
STALL_SECONDS = 0.14
#: The part of a slope that tells where movement ends, as shares of its peak.
_SLOPE_FROM, _SLOPE_TO = 0.45, 0.1
PAUSE_SECONDS = 0.55
#: The part of a slowing down that tells where a motion that goes round comes to rest, as shares of
#: its usual speed.
_REST_FROM, _REST_TO = 0.6, 0.08
_PIXELS = 10.0  # that things may move between two pictures and still be followed


@dataclass(frozen=True, slots=True, kw_only=True)
class Lobe:
    """Movement one way, from `start` to `end` in seconds. `sign` 1 or -1; `peak`, `area`: of it.

    `soft_start`, `soft_end`: the same where the hands rest before or after, for hands that come to
    rest slow down ever more softly. `stalls`: spans within in which it nearly stopped.
    """

    start: float
    end: float
    sign: int
    peak: float
    area: float
    soft_start: float
    soft_end: float
    stalls: tuple[tuple[float, float], ...] = ()


def lobes_of(signal: Numbers, at: Seconds, floor: float) -> list[Lobe]:
    """Return movement this way and that, as far as it is stronger than `floor`, in order."""
    usual = float(np.percentile(np.abs(signal), 85)) if len(signal) else 0.0
    strong = max(_STRONG * usual, floor)
    is_strong = np.abs(signal) > strong
    edges = np.flatnonzero(np.diff(np.concatenate([[0], is_strong.astype(np.int8), [0]])))
    runs = [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    merged: list[list[tuple[int, int]]] = []
    for run in runs:
        sign = np.sign(signal[run[0]])
        if merged and np.sign(signal[merged[-1][0][0]]) == sign:
            merged[-1].append(run)
        else:
            merged.append([run])
    return [_lobe(signal, at, group) for group in merged]


def _lobe(signal: Numbers, at: Seconds, group: list[tuple[int, int]]) -> Lobe:
    first, last = group[0][0], group[-1][1]
    sign = int(np.sign(signal[first]))
    way = sign * signal
    stalls = _stalls(way, at, first, last)

    def second(index: float) -> float:
        return float(np.interp(index, np.arange(len(at)), at))

    return Lobe(
        start=second(_foot(way, first, -1)),
        end=second(_foot(way, last - 1, 1)),
        soft_start=second(_foot(way, first, -1, is_soft=True)),
        soft_end=second(_foot(way, last - 1, 1, is_soft=True)),
        sign=sign,
        peak=float(way[first:last].max()),
        area=float(way[first:last].sum() / RATE),
        stalls=stalls,
    )


def _foot(way: Numbers, index: int, step: int, *, is_soft: bool = False) -> float:
    """Return where `way` falls to nothing from `index` on: along the slope of its last part.

    Near a turn hands slow down evenly, so that their speed is a line through nothing; where they
    come to rest it never crosses: there (`is_soft`) its root is a line.
    """
    peak = float(way[max(0, index - RATE) : index + RATE + 1].max())
    high, low = index, index
    while 0 <= high + step < len(way) and way[high] > _SLOPE_FROM * peak:
        high += step
    low = high
    while 0 <= low + step < len(way) and way[low] > _SLOPE_TO * peak:
        low += step
        if way[low] > _SLOPE_FROM * peak or abs(low - high) > 2 * RATE:
            break
    if abs(low - high) < 2:
        return float(low)
    index_of = np.arange(min(low, high), max(low, high) + 1, dtype=np.float64)
    speeds = way[min(low, high) : max(low, high) + 1]
    slope, base = np.polyfit(index_of, np.sqrt(np.maximum(speeds, 0)) if is_soft else speeds, 1)
    if slope * step >= 0:
        return float(low)
    foot = -base / slope
    reach = (4 if is_soft else 1) * abs(low - high) + 2
    return float(np.clip(foot, low - reach, low + reach))


def foot_of(size: Numbers, index: int, usual: float) -> float:
    """Return where (a fraction of a sample) what slows down around `index` comes to rest.

    Its speed `size`, about `usual` while it moves, goes down as a line or as a square does
    (least jerk): whichever fits it better is drawn on to nothing.
    """
    first, last = index, index
    while first > 0 and index - first < RATE and size[first] < _REST_FROM * usual:
        first -= 1
    while last + 1 < len(size) and size[last] > _REST_TO * usual and last - index < RATE:
        last += 1
    if last - first < 4:
        return float(index)
    steps, speeds = np.arange(first, last + 1, dtype=np.float64), size[first : last + 1]
    best, found = np.inf, float(index)
    for power in (1.0, 2.0):
        slope, base = np.polyfit(steps, np.maximum(speeds, 0) ** (1 / power), 1)
        off = float(((np.maximum(slope * steps + base, 0) ** power - speeds) ** 2).sum())
        if slope < 0 and off < best:
            best, found = off, float(-base / slope)
    return float(np.clip(found, index, last + (last - first)))


def _stalls(way: Numbers, at: Seconds, first: int, last: int) -> tuple[tuple[float, float], ...]:
    """Return where movement one way nearly stops between two strong parts of it."""
    part = way[first:last]
    if len(part) < 5:
        return ()
    left = np.maximum.accumulate(part)
    right = np.maximum.accumulate(part[::-1])[::-1]
    slow = part < STALL * np.minimum(left, right)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], slow.astype(np.int8), [0]])))
    found = []
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if (b - a) / RATE >= STALL_SECONDS:
            found.append((float(at[first + a]), float(at[min(first + b, len(at) - 1)])))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Direction:
    """A signal along the main way of a motion, its second way, and how it is made up."""

    main: Numbers
    second: Numbers
    share: float  # of the second in the first, 0 to 1, by standard deviation
    lag: int
    noise: float
    usual: float
    way: Numbers  # of length 1, what `main` is made up of


def direction(rows: Numbers, lag: int) -> Direction:
    """Return the first two principal ways of `rows` (n, any), about zero: no movement is zero.

    Frames count by at most 1.3 of the median size (spatial signs), so that what passes through
    does not turn the ways.
    """
    size = np.sqrt((rows**2).sum(axis=1))
    usual = float(np.median(size)) + 1e-9
    held = rows * np.minimum(1.0, 1.3 * usual / np.maximum(size, 1e-9))[:, None]
    values, vectors = np.linalg.eigh(held.T @ held / max(1, len(held)))
    main, second = rows @ vectors[:, -1], rows @ vectors[:, -2]
    share = float(np.sqrt(max(values[-2], 0.0) / max(values[-1], 1e-12)))
    rough = main - smoothed(main, 0.08)
    return Direction(
        main=main,
        second=second,
        share=share,
        lag=lag,
        noise=float(1.4826 * np.median(np.abs(rough))),
        usual=float(np.percentile(np.abs(main), 85)),
        way=np.asarray(vectors[:, -1]),
    )


def best_lag(rows: Numbers, speed: float) -> int:
    """Return the index of the lag that follows a motion of `speed` pixels a second best.

    `rows` is not looked at but for its count of lags.
    """
    for index in range(len(LAGS) - 1, -1, -1):
        if LAGS[index] / 25 * speed <= _PIXELS and index < len(rows):
            return index
    return 0


def whole(signals: Signals) -> slice:
    return slice(0, len(signals.at))
