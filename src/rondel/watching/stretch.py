"""One kind of motion read as strokes: which kind, when each lands, where it stalls or rests."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from rondel.model.take import MotionKind
from rondel.watching.deepest import GLIDE_SLOWS, deepest, settled
from rondel.watching.moving import LAG_RATE, LAGS
from rondel.watching.signals import RATE, Numbers, Signals, followed, smoothed
from rondel.watching.spans import spans_of
from rondel.watching.strokes import (
    PAUSE_SECONDS,
    STALL,
    STALL_SECONDS,
    Direction,
    Lobe,
    direction,
    foot_of,
    lobes_of,
)
from rondel.watching.turns import LAST_TURN, ONE_TURN, landings_at

Spans = tuple[tuple[float, float], ...]

#: Movement apart that is so strong beside movement together is hands going opposite ways.
_OPPOSITE = 0.5
#: The second way of a motion is so wide beside the first where it goes round.
_ROUND = 0.45
#: Pixels (of a picture 320 wide) that a hand travels less than in one way of a press.
_PRESS_TRAVEL = 5.0
#: The same that hands which work travel at least: in drawn tuning takes those at rest seem to
#: travel 1.1 at most. Fewer strokes than the second tell nothing of hands that travel so little.
_LEAST_TRAVEL, _LEAST_STROKES = 1.5, 4
_MEAN_SPEED = 0.64  # of the speed of hands on their way, beside its highest: that of a half sine
_LEAST_SNR = 3.0
#: The same of a press, whose signal is smoother: in drawn tuning takes hands at rest reach 10,
#: those that press 89 and more.
_LEAST_PRESS_SNR = 25.0
_ALIKE = 2.2  # times as long or as far as the usual stroke, at most
_REST_SHARE = 0.2  # of a stroke that hands may seem still at a turn without resting
#: Seconds longer than usual that hands stay lifted: a press that stalls. In drawn tuning takes
#: those that stall stay lifted 1.7 s or more, others 0.04 at most.
_PRESS_WAITS = 0.6
#: Seconds between closing in and opening; hands that stay longer rest while they press.
_TURNS_WITHIN = 0.6
_LAG_SHARE = 0.1  # of the movement one way that a lag may last


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What one kind of motion was read as; seconds throughout. `strength`: signal to noise.

    `way`: of length 1, how its main movement is made up. `curve`: the motion along it, about 1 at
    its quickest, a value a sample.

    `eighths`: where it goes round, the second of every eighth of a turn, counted from a landing
    (`rondel.watching.turns`); strokes may land at another, where the teacher says so.
    """

    kind: MotionKind
    start: float
    end: float
    landings: tuple[float, ...]
    slips: Spans
    pauses: Spans
    period: float
    strength: float
    way: tuple[float, ...] = ()
    curve: Numbers = field(default_factory=lambda: np.zeros(0), compare=False)
    eighths: tuple[float, ...] = ()


def read(signals: Signals, start: float, end: float) -> Read | None:
    """Return the strokes between `start` and `end`, where one kind of motion is taken to go on.

    It is read twice: the length of its strokes tells which lag suits them.
    """
    first = _read(signals, start, end, None)
    if first is None:
        return None
    one_way = first.period / 2 if first.kind is MotionKind.CIRCLE else first.period
    fitting = [n for n, lag in enumerate(LAGS[:-1]) if lag / LAG_RATE <= _LAG_SHARE * one_way]
    lag = max(fitting, default=0)
    part = signals.between(start, end)
    travel = float(np.percentile(signals.speed[lag, part], 80)) * _MEAN_SPEED * one_way
    pressed = _press(signals, part) if travel < _PRESS_TRAVEL else None
    if pressed is not None or travel < _LEAST_TRAVEL:
        return pressed
    found = _read(signals, start, end, lag) or first
    # What is no press and travels as little goes to and fro in small strokes, or rests.
    is_sure = travel >= _PRESS_TRAVEL or len(found.landings) >= _LEAST_STROKES
    return found if is_sure else None


def _read(signals: Signals, start: float, end: float, lag: int | None) -> Read | None:
    part = signals.between(start, end)
    at = signals.at[part]
    if len(at) < RATE:
        return None
    if lag is None:
        together = direction(followed(signals.together[:, part]), 0)
        apart = direction(followed(signals.apart[:, part]), 0)
    else:
        together = direction(signals.together[lag, part], lag)
        apart = direction(signals.apart[lag, part], lag)
    is_opposite = apart.usual > _OPPOSITE * together.usual
    ways = apart if is_opposite else together
    strength = ways.usual / max(ways.noise, 1e-9)
    if strength < _LEAST_SNR:
        return None
    is_round = not is_opposite and ways.share > _ROUND and _turns(ways)
    if is_round:
        return _round(ways, at, strength)
    return _to_and_fro(ways, at, strength, is_opposite=is_opposite)


def _turns(ways: Direction) -> bool:
    """True where the motion goes round and not to and fro in two ways by turns."""
    angle = np.arctan2(ways.second / max(ways.share, 1e-6), ways.main)
    steps = np.angle(np.exp(1j * np.diff(angle)))
    size = np.hypot(ways.main, ways.second)[1:]
    moving = size > 0.4 * ways.usual
    if not moving.any():
        return False
    turned = float(np.abs(np.sum(steps[moving])))
    return turned > 0.6 * float(np.sum(np.abs(steps[moving])))


def _round(ways: Direction, at: Numbers, strength: float) -> Read:
    """Read a motion that goes round: it lands where its main way turns from forth to back."""
    size = np.hypot(ways.main, ways.second / max(ways.share, 1e-6))
    usual = float(np.percentile(size, 70))
    angle = np.arctan2(ways.second / max(ways.share, 1e-6), ways.main)
    sure = np.flatnonzero(size >= 0.15 * usual)
    angle = np.interp(np.arange(len(at)), sure, np.unwrap(angle[sure]))
    if angle[-1] < angle[0]:
        angle = -angle
    # The speed is a quarter of a turn ahead of the place; landing is where the place is furthest.
    turns = np.maximum.accumulate(angle) / (2 * np.pi) - 0.25
    rising = turns + 1e-9 * np.arange(len(turns))
    slips, pauses = _stops(size, usual, at)
    eighths = _eighths(rising, at)
    landings = landings_at(eighths, pauses, 0.0, float(at[-1]))
    period = float(np.median(np.diff(landings))) if len(landings) > 1 else 0.0
    return Read(
        kind=MotionKind.CIRCLE,
        eighths=eighths,
        start=float(at[0]),
        end=float(at[-1]),
        landings=landings,
        slips=slips,
        pauses=pauses,
        period=period,
        strength=strength,
        way=tuple(ways.way.tolist()),
        curve=ways.main / max(ways.usual, 1e-9),
    )


def _eighths(turns: Numbers, at: Numbers) -> tuple[float, ...]:
    """Return the second of every eighth turn, from the last whole one before the motion begins.

    Those before it begins are when it begins, so that a place of a turn is the same place in every
    stretch; the last may lie after its end: when it would have come.
    """
    usual = (at[-1] - at[0]) / max(float(turns[-1] - turns[0]), 1e-9)
    wanted = np.arange(
        ONE_TURN * np.floor(turns[0]), np.ceil(ONE_TURN * (turns[-1] + LAST_TURN)) + 1
    )
    seconds = np.interp(wanted / ONE_TURN, turns, at)
    seconds += np.maximum(wanted / ONE_TURN - turns[-1], 0.0) * usual
    return tuple(float(t) for t in seconds)


def _stops(size: Numbers, usual: float, at: Numbers) -> tuple[Spans, Spans]:
    """Return slips and pauses of a motion that goes round: where its speed (`size`) is low.

    What begins or ends a stretch is no slip, for hands move on both sides of one.
    """
    slow = smoothed(size, 0.04) < STALL * usual
    joined: list[tuple[float, float]] = []
    for start, end in spans_of(slow, at, 2 / RATE):
        if joined and start - joined[-1][1] < STALL_SECONDS:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    slips: list[tuple[float, float]] = []
    pauses: list[tuple[float, float]] = []
    for start, end in joined:
        is_edge = start <= at[0] + STALL_SECONDS or end >= at[-1] - STALL_SECONDS
        if end - start < STALL_SECONDS:
            continue
        if is_edge or end - start >= 2 * PAUSE_SECONDS:
            rests = foot_of(size, int(np.searchsorted(at, start)), usual)
            pauses.append((min(float(np.interp(rests, np.arange(len(at)), at)), end), end))
        else:
            slips.append((start, end))
    return tuple(slips), tuple(pauses)


def _to_and_fro(ways: Direction, at: Numbers, strength: float, *, is_opposite: bool) -> Read | None:
    smooth = 0.03 if ways.lag == 0 else 0.06
    lobes = lobes_of(smoothed(ways.main, smooth), at, 2 * ways.noise)
    lobes = regular(without_crumbs(lobes))
    if len(lobes) < 2:
        return None
    usual = float(np.median([lobe.end - lobe.start for lobe in lobes]))
    landings: list[float] = []
    pauses: list[tuple[float, float]] = []
    slips: list[tuple[float, float]] = []
    for lobe, later in zip(lobes, [*lobes[1:], None], strict=True):
        gap = later.start - lobe.end if later is not None else 0.0
        if later is not None and gap < _REST_SHARE * usual + 0.1:
            landing = (lobe.end + later.start) / 2
        else:
            speed, seen_over = lobe.sign * ways.main, LAGS[ways.lag] / LAG_RATE
            landing = settled(speed, at, lobe, seen_over, slows=GLIDE_SLOWS)
            if later is not None and later.soft_start - landing > PAUSE_SECONDS:
                pauses.append((landing, later.soft_start))
        landings.append(landing)
        slips.extend(lobe.stalls)
    kind = MotionKind.ALTERNATE if is_opposite else MotionKind.GLIDE
    return Read(
        kind=kind,
        start=float(at[0]),
        end=float(at[-1]),
        landings=tuple(landings),
        slips=tuple(slips),
        pauses=tuple(pauses),
        period=float(np.median(np.diff(landings))),
        strength=strength,
        way=tuple(ways.way.tolist()),
        curve=ways.main / max(ways.usual, 1e-9),
    )


def _press(signals: Signals, part: slice) -> Read | None:
    """Read a motion that goes in and out: it lands where hands are deepest.

    What goes away from the camera grows smaller, so that cells move towards their middle.
    """
    at = signals.at[part]
    rows = np.concatenate([signals.together[-1, part], signals.apart[-1, part]], axis=1)
    ways = direction(smoothed(rows, 0.05), len(LAGS) - 1)
    strength = ways.usual / max(ways.noise, 1e-9)
    if strength < _LEAST_PRESS_SNR:
        return None
    growing = signals.apart[-1, part, 0] + signals.apart[-1, part, 3]
    inwards = -np.sign(float(np.dot(smoothed(growing, 0.2), ways.main))) or 1.0
    lobes = without_crumbs(lobes_of(inwards * ways.main, at, 2 * ways.noise))
    speed, seen_over = inwards * ways.main, LAGS[-1] / LAG_RATE
    landings: list[float] = []
    slips: list[tuple[float, float]] = []
    lifted = [b.start - a.end for a, b in pairwise(lobes) if a.sign < 0]
    waits = _PRESS_WAITS + (float(np.median(lifted)) if lifted else 0.0)
    for lobe, later in zip(lobes, [*lobes[1:], None], strict=True):
        if lobe.sign < 0:
            if later is not None and later.start - lobe.end > waits:
                slips.append((lobe.end, later.start))
            continue
        if later is not None and later.start - lobe.end < _TURNS_WITHIN:
            turn = (lobe.end + later.start) / 2
            landings.append(deepest(speed, at, (lobe, later), turn, seen_over))
        else:
            landings.append(settled(speed, at, lobe, seen_over))
        slips.extend(lobe.stalls)
    if len(landings) < 2:
        return None
    return Read(
        kind=MotionKind.PRESS,
        start=float(at[0]),
        end=float(at[-1]),
        landings=tuple(landings),
        slips=tuple(slips),
        pauses=(),
        period=float(np.median(np.diff(landings))),
        strength=strength,
        way=tuple(ways.way.tolist()),
        curve=inwards * ways.main / max(ways.usual, 1e-9),
    )


def regular(lobes: list[Lobe]) -> list[Lobe]:
    """Return `lobes` without those at both ends that are unlike the rest: hands come and go."""
    if len(lobes) < 4:
        return lobes
    length = float(np.median([lobe.end - lobe.start for lobe in lobes]))
    area = float(np.median([lobe.area for lobe in lobes]))

    def is_alike(lobe: Lobe) -> bool:
        long, large = (lobe.end - lobe.start) / length, lobe.area / area
        return 1 / _ALIKE < long < _ALIKE + bool(lobe.stalls) and 1 / _ALIKE < large < _ALIKE

    first, last = 0, len(lobes)
    while first < last and not is_alike(lobes[first]):
        first += 1
    while last > first and not is_alike(lobes[last - 1]):
        last -= 1
    return lobes[first:last]


def without_crumbs(lobes: list[Lobe], least: float = 0.12) -> list[Lobe]:
    """Return `lobes` without those far smaller than their neighbours; these become one."""
    if len(lobes) < 3:
        return lobes
    usual = float(np.median([lobe.area for lobe in lobes]))
    kept: list[Lobe] = []
    for lobe in lobes:
        if lobe.area < least * usual:
            continue
        if kept and kept[-1].sign == lobe.sign:
            before = kept[-1]
            stall = (before.end, lobe.start)
            stalls = (*before.stalls, stall, *lobe.stalls) if stall[1] > stall[0] else before.stalls
            kept[-1] = replace(
                before,
                end=lobe.end,
                soft_end=lobe.soft_end,
                peak=max(before.peak, lobe.peak),
                area=before.area + lobe.area,
                stalls=stalls,
            )
        else:
            kept.append(lobe)
    return kept
