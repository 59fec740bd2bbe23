"""Where words stand: inside one passage, apart from each other, over before what they announce."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from rondel.cues.choice import Choice, Wording
from rondel.cues.pace import (
    SECONDS_BEFORE_CHANGE,
    SECONDS_BETWEEN,
    whole_beats_below,
)
from rondel.model.routine import Passage, Routine

STEP = Fraction(1, 2)  # cues begin on beats or half beats
SECONDS_AFTER_CHANGE = 1.5  # so long the hands settle before words about them


@dataclass(slots=True)
class Room:
    """The free time in one passage. Each call that finds room takes it and remembers the words."""

    routine: Routine
    passage: Passage
    choice: Choice
    placed: list[tuple[Fraction, str]] = field(default_factory=list)
    free_from: float = field(init=False)
    free_to: float = field(init=False)

    def __post_init__(self) -> None:
        self.free_from = self.routine.start_seconds(self.passage) + SECONDS_AFTER_CHANGE
        self.free_to = self.routine.end_seconds(self.passage) - SECONDS_BEFORE_CHANGE

    @property
    def free_seconds(self) -> float:
        return self.free_to - self.free_from

    def at_end(self, wordings: Iterable[Wording], *, keep_free: float = 0.0) -> Wording | None:
        """Place the first wording that fits so that it ends where the room ends.

        `keep_free` seconds stay free before it.
        """

        def starts(wording: Wording) -> Fraction:
            latest = self.free_to - self.choice.seconds(wording.text)
            return whole_beats_below(max(self.routine.clock.beat_at(latest), -1.0), STEP)

        def fits(wording: Wording) -> bool:
            start = starts(wording)
            return start >= 0 and self._seconds(start) >= self.free_from + keep_free

        taken = self.choice.best(w for w in wordings if fits(w))
        if taken is not None:
            self._put(starts(taken), taken)
            self.free_to = self._seconds(starts(taken)) - SECONDS_BETWEEN
        return taken

    def at_start(self, wordings: Iterable[Wording], *, keep_free: float = 0.0) -> Wording | None:
        """Place the first wording that fits where the room begins; `keep_free` seconds remain."""
        start = self._beat_from(self.free_from)
        limit = self.free_to - keep_free - self._seconds(start)
        taken = self.choice.best(w for w in wordings if self.choice.seconds(w.text) <= limit)
        if taken is not None:
            self._put(start, taken)
            end = self._seconds(start) + self.choice.seconds(taken.text)
            self.free_from = end + SECONDS_BETWEEN
        return taken

    def at(self, seconds: float, wordings: Iterable[Wording]) -> Wording | None:
        """Place a wording from about `seconds` on, within the room; what is before it is closed."""
        if not self.free_from <= seconds < self.free_to:
            return None
        self.free_from = seconds
        return self.at_start(wordings)

    def _seconds(self, beat: Fraction) -> float:
        return self.routine.clock.seconds_at(beat)

    def _beat_from(self, seconds: float) -> Fraction:
        below = whole_beats_below(self.routine.clock.beat_at(seconds), STEP)
        return below if self._seconds(below) >= seconds - 1e-6 else below + STEP

    def _put(self, beat: Fraction, wording: Wording) -> None:
        self.choice.take(wording)
        self.placed.append((beat, wording.text))
