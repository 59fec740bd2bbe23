"""A brought track: what was heard in it, and what it is, bar by bar, for a routine."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import pairwise


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """From `start` to `end`, in seconds; never empty."""

    start: float
    end: float

    def __post_init__(self) -> None:
        if not 0 <= self.start < self.end:
            raise ValueError("a span starts at 0 or later and ends after it starts")

    @property
    def seconds(self) -> float:
        return self.end - self.start

    def holds(self, second: float) -> bool:
        return self.start <= second < self.end


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A part of a track that is alike in itself. `energy` is 0 (its softest) to 1 (strongest)."""

    span: Span
    energy: float
    has_beat: bool

    def __post_init__(self) -> None:
        if not 0 <= self.energy <= 1:
            raise ValueError("energy must be from 0 to 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherTempo:
    """A tempo that the track may have instead. `says` names it, such as "half as fast"."""

    bpm: float
    beats_per_bar: int
    confidence: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardFrom:
    """What something was heard from: the SHA-256 of the track, and of what was put right in it."""

    track: str
    corrections: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What was heard in a track of `seconds`, in seconds from its start.

    `beats` go on through spans where none sounds, as far as the pulse implies them; `downbeats`
    are those of them that begin a bar. `beatless`: no beat is heard; `unsure`: there may be one.
    `returns`: where the motif is heard; `rises`: swells into a change, each ending at its top.
    `confidence`, 0 to 1, is that of tempo and beats. Loudness in LUFS, true peak in dBTP.
    `shape`: how strong the sound is in equal parts of the track, 0 to 1 (its strongest).
    `motif_guesses`: what the motif may be, likeliest first; to be shown to a person, not relied on.
    `heard_from`: what of, where that is known.
    """

    seconds: float
    bpm: float
    is_constant: bool
    beats_per_bar: int
    beats: tuple[float, ...]
    downbeats: tuple[float, ...]
    beatless: tuple[Span, ...] = ()
    unsure: tuple[Span, ...] = ()
    sections: tuple[Section, ...] = ()
    returns: tuple[Span, ...] = ()
    rises: tuple[Span, ...] = ()
    others: tuple[OtherTempo, ...] = ()
    loudness: float | None = None
    true_peak: float | None = None
    confidence: float = 0.0
    shape: tuple[float, ...] = ()
    motif_guesses: tuple[Span, ...] = ()
    heard_from: HeardFrom | None = None

    def __post_init__(self) -> None:
        _must_rise(self.beats, "beats")
        _must_rise(self.downbeats, "downbeats")
        if self.seconds <= 0 or self.beats_per_bar < 1:
            raise ValueError("a track lasts, and its bars have beats")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One stretch of the track as it is played: its `source`, heard from second `at` on."""

    source: Span
    at: float

    @property
    def end(self) -> float:
        """The second of the session at which it has been played."""
        return self.at + self.source.seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A track as the bars of a routine: what a hand can follow in each.

    Bars count from 0 in the routine. `heard`, one a bar: a beat can be heard throughout it.
    `energy`, one a bar, 0 to 1. `phrases`: bars on which a phrase begins; `turns`: bars on which
    a section begins or a rise arrives; `homes`: bars on which the motif returns; `strongest`:
    first bar and past-last bar of the strongest section, which `stands_out` where sections
    differ clearly. `pieces` say how the track is played, `tail_from` the second of the session
    from which a composed tail sounds (None: there is none), `fade_seconds` how long its last
    part fades. `quiet_seconds`: how long the track goes on from its start without a beat;
    `track_seconds`: how long it is (None: not told).
    """

    heard: tuple[bool, ...]
    energy: tuple[float, ...]
    phrases: tuple[int, ...]
    turns: tuple[int, ...]
    homes: tuple[int, ...]
    strongest: tuple[int, int]
    stands_out: bool
    pieces: tuple[Piece, ...]
    tail_from: float | None = None
    fade_seconds: float = 0.0
    quiet_seconds: float = 0.0
    track_seconds: float | None = None

    def __post_init__(self) -> None:
        if len(self.heard) != len(self.energy) or not self.heard:
            raise ValueError("every bar of a course is heard or not, and has an energy")
        first, past = self.strongest
        if not 0 <= first < past <= len(self.heard):
            raise ValueError("the strongest section lies within the bars")
        for name in ("phrases", "turns", "homes"):
            _must_rise(getattr(self, name), name)

    @property
    def bars(self) -> int:
        return len(self.heard)

    @property
    def quiet_bars(self) -> int:
        """How many bars, from the first on, are without a beat."""
        return next((bar for bar, is_heard in enumerate(self.heard) if is_heard), self.bars)


#: Bars over which a drift of the tempo is looked at: the shortest that passages are made of, about.
_DRIFT_BARS = 4

#: A drift below this share is the rounding of beats to milliseconds.
_STEADY = 0.0005


@dataclass(frozen=True, kw_only=True)
class Laid:
    """A track as it is laid out for a brief of `minutes`: the second of every beat and of the end,
    and what it is bar by bar. `says` tells in sentences what was done to it; `heard_from`, what
    that was heard from."""

    minutes: Fraction
    beats_per_bar: int
    beat_seconds: tuple[float, ...]
    course: Course
    says: tuple[str, ...] = ()
    heard_from: HeardFrom | None = None

    def __post_init__(self) -> None:
        if len(self.beat_seconds) != self.course.bars * self.beats_per_bar + 1:
            raise ValueError("a track needs the second of every beat and of the end")
        _must_rise(self.beat_seconds, "beat_seconds")

    @property
    def bars(self) -> int:
        return self.course.bars

    @cached_property
    def bar_starts(self) -> tuple[float, ...]:
        """The second at which each bar begins, and that of the end."""
        return self.beat_seconds[:: self.beats_per_bar]

    @property
    def total_seconds(self) -> float:
        """The length of the routine: from the first second of the session to the end."""
        return self.beat_seconds[-1]

    @cached_property
    def bpm(self) -> Fraction:
        """The mean tempo, to a millionth of a beat."""
        beats = self.bars * self.beats_per_bar
        return Fraction(60 * beats / self.total_seconds).limit_denominator(1_000_000)

    @cached_property
    def drift(self) -> Fraction:
        """The share by which a passage's bars may be quicker or slower than the mean; 0 where the
        tempo is steady."""
        # The last bar may be held until the music is over.
        starts = self.bar_starts[:-1] if self.bars > 1 else self.bar_starts
        mean, span = self.total_seconds / self.bars, min(_DRIFT_BARS, len(starts) - 1)
        lasts = [(b - a) / span for a, b in zip(starts, starts[span:], strict=False)]
        furthest = max(abs(one / mean - 1) for one in lasts)
        return Fraction(furthest).limit_denominator(10_000) if furthest > _STEADY else Fraction(0)


def _must_rise(values: Iterable[float], name: str) -> None:
    if any(a >= b for a, b in pairwise(values)):
        raise ValueError(f"{name} must rise")
