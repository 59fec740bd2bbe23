"""A take: what was seen of the hands in it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from rondel.model.stretches import shared_seconds
from rondel.model.track import Span
from rondel.model.words import Side

#: Of a pause, that hands are out of the picture for, which makes it none.
_MOSTLY = 0.5


class MotionKind(StrEnum):
    """How hands move. Glide: to and fro together. Circle: round. Alternate: hand after hand, or
    two hands in opposite ways. Press: in and out."""

    GLIDE = "glide"
    CIRCLE = "circle"
    ALTERNATE = "alternate"
    PRESS = "press"


class Fault(StrEnum):
    """What makes a part of a take hard to use."""

    DARK = "dark"
    GLARING = "glaring"
    BLURRED = "blurred"
    SHAKEN = "shaken"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenStretch:
    """A part of a take in which hands move in one way. Seconds from the take's first picture.

    `landings`: where strokes end. `eighths`: of a motion that goes round, every eighth of a turn;
    each eighth one of them is a landing. `period`: the usual seconds from landing to landing.
    `confidence`: 0 to 1, how surely the strokes are told. `technique`: its id, where the teacher
    has named it.
    """

    span: Span
    kind: MotionKind
    landings: tuple[float, ...]
    period: float
    confidence: float
    slips: tuple[Span, ...] = ()
    pauses: tuple[Span, ...] = ()
    eighths: tuple[float, ...] = ()
    technique: str | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.confidence <= 1:
            raise ValueError("confidence must be from 0 to 1")
        if any(b <= a for a, b in zip(self.landings, self.landings[1:], strict=False)):
            raise ValueError("landings must rise")


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultSpan:
    """A span of a take that is hard to use, and why."""

    span: Span
    fault: Fault


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What was seen in a take of `seconds`, whose pictures come `fps` a second on the whole.

    `away`: spans in which hands are out of the picture. `cuts`: where the camera was switched.
    `curve`: how hands moved, -1 to 1, at even steps over the whole take, for a picture of it.
    `side`, `angle`: as the teacher has named them.
    """

    seconds: float
    fps: float
    width: int
    height: int
    stretches: tuple[SeenStretch, ...]
    away: tuple[Span, ...] = ()
    cuts: tuple[float, ...] = ()
    faults: tuple[FaultSpan, ...] = ()
    curve: tuple[float, ...] = ()
    side: Side | None = None
    angle: str | None = None

    @property
    def strokes(self) -> tuple[float, ...]:
        """Where strokes land, in order."""
        return tuple(landing for one in self.stretches for landing in one.landings)

    @property
    def slips(self) -> tuple[Span, ...]:
        return tuple(slip for one in self.stretches for slip in one.slips)

    @property
    def pauses(self) -> tuple[Span, ...]:
        """Where hands rest in the picture; a stretch pauses too while they are out of it."""
        pauses = [pause for one in self.stretches for pause in one.pauses]
        return tuple(p for p in pauses if shared_seconds(p, self.away) < _MOSTLY * p.seconds)

    @property
    def period(self) -> float | None:
        """The usual seconds from landing to landing; None where no stroke was seen."""
        steps = [one.period for one in self.stretches for _ in one.landings]
        return float(median(steps)) if steps else None

    @property
    def confidence(self) -> float:
        """How surely strokes are told, by the time that they take of the take."""
        if not self.seconds:
            return 0.0
        told = sum(one.confidence * one.span.seconds for one in self.stretches)
        return min(1.0, told / self.seconds)
