"""The plan: a row of passages measured in bars, whose strokes land on beats."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import groupby

from rondel.model.brief import Brief, titled
from rondel.model.time import Clock, Tempo
from rondel.model.track import Course, HeardFrom
from rondel.model.words import DEEP, Intention, Layer, Position, Role, Side


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """One stretch of a routine in whole bars. `technique` is None where bars are left open.

    `beats_per_stroke` is a whole number of beats, or one half; `first_landing_beat` counts
    from the start of the passage.
    """

    id: str
    technique: str | None
    role: Role
    side: Side
    position: Position
    start_bar: int
    bars: int
    pressure: int
    beats_per_stroke: Fraction
    first_landing_beat: Fraction
    layer: Layer = Layer.ONLY
    kept: bool = False
    stretch: bool = False
    short: bool = False
    why: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        checks = (
            (self.start_bar >= 0, "start_bar must be 0 or more"),
            (self.bars >= 1, "bars must be 1 or more"),
            (0 <= self.pressure <= 5, "pressure must be 0 to 5"),
            (self.beats_per_stroke > 0, "beats_per_stroke must be above 0"),
            (self.first_landing_beat >= 0, "first_landing_beat must be 0 or more"),
        )
        for holds, says in checks:
            if not holds:
                raise ValueError(says)

    @property
    def end_bar(self) -> int:
        return self.start_bar + self.bars

    @property
    def is_open(self) -> bool:
        return self.technique is None

    @property
    def is_deep(self) -> bool:
        return self.technique is not None and self.pressure >= DEEP


@dataclass(frozen=True, slots=True, kw_only=True)
class Cue:
    """Words spoken and shown from `at_beat` on. `id` names the teacher's own recording, if any."""

    id: str
    at_beat: Fraction
    say: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How good the plan is known to be: `optimal`, `within` a bound, or `found`. Less is better."""

    status: str = "found"
    objective: float = 0.0
    bound: float | None = None
    solver_seconds: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Music:
    """`composed` by Rondel, or a brought `track` with the second of every beat and of the end.

    `course` says what the track is in every bar, and `heard_from` what that was heard from; a
    routine written elsewhere may lack both.
    """

    kind: str = "composed"
    path: str | None = None
    beat_seconds: tuple[float, ...] = ()
    course: Course | None = None
    heard_from: HeardFrom | None = None


@dataclass(frozen=True, kw_only=True)
class Routine:
    """The one object that plan, music, pictures, words and paper are all drawn from.

    No title means `UNTITLED`: page, cards, film, captions and files then all say the same.
    """

    title: str
    seed: int
    beats_per_bar: int
    tempo: tuple[Tempo, ...]
    bars: int
    passages: tuple[Passage, ...]
    cues: tuple[Cue, ...] = ()
    proof: Proof = Proof()
    music: Music = Music()
    brief: Brief | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "title", titled(self.title))

    @cached_property
    def clock(self) -> Clock:
        return Clock(
            beats_per_bar=self.beats_per_bar,
            bars=self.bars,
            tempi=self.tempo,
            beat_seconds=self.music.beat_seconds,
        )

    @property
    def intention(self) -> Intention:
        """The brief's intention; `settle` for a routine that came without its brief."""
        return self.brief.intention if self.brief else Intention.SETTLE

    @property
    def music_character(self) -> Intention:
        """Whose character composed music has: the intention's, where the brief names no other."""
        return (self.brief.character if self.brief else None) or self.intention

    @cached_property
    def line(self) -> tuple[Passage, ...]:
        """The passages in order, without the upper layer of a peak, which shares its bars."""
        return tuple(p for p in self.passages if p.layer is not Layer.OVER)

    @cached_property
    def refrains(self) -> tuple[tuple[Passage, ...], ...]:
        """Every return of the refrain, as its row of passages."""
        rows = groupby(self.line, key=lambda p: p.role is Role.REFRAIN)
        return tuple(tuple(row) for is_home, row in rows if is_home)

    def start_beat(self, passage: Passage) -> int:
        return passage.start_bar * self.beats_per_bar

    def end_beat(self, passage: Passage) -> int:
        return passage.end_bar * self.beats_per_bar

    def start_seconds(self, passage: Passage) -> float:
        return self.clock.seconds_at_bar(passage.start_bar)

    def end_seconds(self, passage: Passage) -> float:
        return self.clock.seconds_at_bar(passage.end_bar)

    def seconds_of(self, passage: Passage) -> float:
        """The length of `passage`."""
        return self.end_seconds(passage) - self.start_seconds(passage)

    def landings(self, passage: Passage) -> tuple[Fraction, ...]:
        """The beats, from the start of the routine, at which the strokes of `passage` land.

        An open passage has none.
        """
        if passage.is_open:
            return ()
        beats, step = passage.bars * self.beats_per_bar, passage.beats_per_stroke
        count = int(Fraction(beats) / step)
        first = self.start_beat(passage) + passage.first_landing_beat
        last = self.end_beat(passage)
        return tuple(b for b in (first + k * step for k in range(count)) if b < last)

    def passage_at(self, beat: float) -> Passage:
        """The passage of the line that is under way at `beat` (the last one at the end)."""
        for passage in self.line:
            if beat < self.end_beat(passage):
                return passage
        return self.line[-1]
