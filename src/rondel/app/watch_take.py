"""Watch a take: what moves in its pictures once through, then strokes, slips and pauses."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from rondel.app.ports.takes import BesideTake, Takes, Watched
from rondel.app.progress import Progress
from rondel.model.codec.moments import moment_says
from rondel.model.errors import BadInput
from rondel.model.take import Seen, SeenStretch
from rondel.model.take_corrections import NONE, TakeCorrections, of_another_take_says
from rondel.model.track import Span
from rondel.watching.looks import faults_of
from rondel.watching.put_right import is_beyond, latest_told, put_right
from rondel.watching.seeing import see_signals
from rondel.watching.signals import RATE, Signals, signals_of
from rondel.watching.stretch import Read

CURVE_STEP_SECONDS = 0.1
_CURVE_TOP = 1.6  # times the usual speed: what is quicker is cut off
#: Signal to noise at which strokes are told without doubt, and at which they are not told.
_SURE, _LOST = 25.0, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchTools:
    """What watching asks of the outside. `way` is the digest of the way of watching."""

    takes: Takes
    beside: BesideTake
    way: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedOfTake:
    """What is to be put right now; `forget`: kinds of earlier corrections to take back first."""

    more: TakeCorrections = NONE
    forget: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenTake:
    """What is in a take, with the corrections that are in it; `digest` is that of its file."""

    seen: Seen
    digest: str
    corrections: TakeCorrections


def watch_take(
    take: Path, tools: WatchTools, *, progress: Progress, asked: AskedOfTake | None = None
) -> SeenTake:
    """Watch `take`, or use what is kept of it where it did not change; with all corrections.

    What is asked for now is added to the corrections beside the take. Raises BadInput where the
    take cannot be read or a correction cannot be; nothing is written then.
    """
    asked = asked or AskedOfTake()
    before = tools.beside.corrections(take)
    wanted = before
    for kind in asked.forget:
        wanted = wanted.forgetting(kind)
    kept, wanted = wanted, wanted.then(asked.more)
    made_from, digest, first = "", "", None
    if take.is_file():
        digest = tools.takes.digest(take)
        made_from = hashlib.sha256(f"{digest} {tools.way}".encode()).hexdigest()
        first = tools.beside.kept(take, made_from)
    is_new = first is None
    if first is None:
        watched = tools.takes.watched(take, progress)
        progress.begin("finding strokes", 1)
        first = seen_in(watched)
        progress.end()
    if is_beyond(first, kept):
        at, end = moment_says(latest_told(kept)), moment_says(round(first.seconds, 1))
        raise BadInput(of_another_take_says(at, end), at=take.name)
    seen = put_right(first, wanted)
    if wanted != before:
        tools.beside.correct(take, wanted)
    if is_new or wanted != before:
        tools.beside.keep(take, first, seen, made_from)
    return SeenTake(seen=seen, digest=digest, corrections=wanted)


def seen_in(watched: Watched) -> Seen:
    """Return what is seen in a take that was read."""
    signals = signals_of(watched.moved)
    motion = see_signals(signals)
    return Seen(
        seconds=float(watched.moved.frames[-1]),
        fps=watched.fps,
        width=watched.width,
        height=watched.height,
        stretches=tuple(_stretch(one) for one in motion.reads),
        away=_spans(signals.away),
        cuts=watched.cuts,
        faults=faults_of(watched.moved, watched.looks),
        curve=_curve(motion.reads, signals),
    )


def _stretch(one: Read) -> SeenStretch:
    return SeenStretch(
        span=Span(start=max(0.0, one.start), end=one.end),
        kind=one.kind,
        landings=tuple(sorted({round(t, 4) for t in one.landings if t >= 0})),
        period=round(one.period, 4),
        confidence=round(_confidence(one), 3),
        slips=_spans(one.slips),
        pauses=_spans(one.pauses),
        eighths=tuple(round(max(0.0, t), 4) for t in one.eighths),
    )


def _spans(pairs: tuple[tuple[float, float], ...]) -> tuple[Span, ...]:
    return tuple(Span(start=round(max(0.0, a), 4), end=round(b, 4)) for a, b in pairs if b > a)


def _confidence(one: Read) -> float:
    """Return how surely strokes are told: by how clear the motion is, and how even."""
    clear = float(np.clip((one.strength - _LOST) / (_SURE - _LOST), 0.0, 1.0))
    steps = np.diff(one.landings)
    if len(steps) < 2:
        return 0.3 * clear
    even = float(np.mean(np.abs(np.log2(np.maximum(steps, 1e-3) / np.median(steps))) < 1.0))
    return clear * even


def _curve(reads: tuple[Read, ...], signals: Signals) -> tuple[float, ...]:
    """Return every tenth of a second how hands move, -1 to 1: each stretch along its own way."""
    whole = np.zeros(len(signals.at))
    for one in reads:
        first = int(np.searchsorted(signals.at, one.start))
        last = min(len(whole), first + len(one.curve))
        whole[first:last] = one.curve[: last - first] / _CURVE_TOP
    step = int(CURVE_STEP_SECONDS * RATE)
    return tuple(round(float(v), 3) for v in np.clip(whole[::step], -1, 1))
