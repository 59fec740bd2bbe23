"""Where the music has a beat to be heard, and where it announces a change.

Stated once here because composer, page, video and follow-along must all agree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from rondel.model.routine import Passage, Routine
from rondel.model.words import Role

#: The opening and the close without a beat, in seconds, for forms of six minutes or more
#: (rules `opening` and `close`; common practice, no source).
OPENING_SECONDS = 90.0
CLOSE_SECONDS = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """The last bars of a passage, in beats, where sound and voice announce the next."""

    start_beat: int
    end_beat: int
    leaving: Passage
    entering: Passage

    @property
    def is_home(self) -> bool:
        """True where the refrain is announced."""
        return self.entering.role is Role.REFRAIN and self.leaving.role is not Role.REFRAIN


def times_scale(routine: Routine) -> float:
    """Return s = min(1, minutes / 6): of the brief where there is one, else of the routine."""
    if routine.brief is not None:
        return float(routine.brief.scale)
    return min(1.0, routine.clock.total_seconds / 360.0)


def heard_beats(routine: Routine) -> tuple[int, int]:
    """Return (first, past_last): the whole beats of composed music that can be heard.

    No beat in the opening (90 s, scaled), rounded up to the next bar; none from the start of the
    closing passage or of the last 60 s (scaled), whichever is later, rounded down to a bar: the
    close thins to silence. With a brought track: from the first that is heard to the last; between
    them the track may pause, so who draws beats asks `audible_beats`.
    """
    if routine.music.kind == "track":
        beats = audible_beats(routine)
        return (beats[0], beats[-1] + 1) if beats else (0, 0)
    scale, clock = times_scale(routine), routine.clock
    first_bar = math.ceil(clock.beat_at(OPENING_SECONDS * scale) / routine.beats_per_bar - 1e-9)
    close_at = clock.total_seconds - CLOSE_SECONDS * scale
    last_bar = math.floor(clock.beat_at(close_at) / routine.beats_per_bar + 1e-9)
    closing = [p.start_bar for p in routine.line if p.role is Role.CLOSE]
    last_bar = max(last_bar, max(closing, default=0))
    last_bar = min(last_bar, routine.bars)
    return first_bar * routine.beats_per_bar, max(first_bar, last_bar) * routine.beats_per_bar


def audible_beats(routine: Routine) -> tuple[int, ...]:
    """Return every whole beat that can be heard, in order.

    With a track: those of the bars in which its course hears one. A routine written elsewhere,
    without a course, is taken at its word: all of its beats.
    """
    if routine.music.kind != "track":
        return tuple(range(*heard_beats(routine)))
    course, meter = routine.music.course, routine.beats_per_bar
    if course is None:
        return tuple(range(routine.clock.beats))
    bars = [bar for bar, is_heard in enumerate(course.heard) if is_heard and bar < routine.bars]
    return tuple(beat for bar in bars for beat in range(bar * meter, (bar + 1) * meter))


def crossings(routine: Routine) -> tuple[Crossing, ...]:
    """Return a crossing for every change of passage: two bars, or one where it has under four."""
    found = []
    for leaving, entering in pairwise(routine.line):
        bars = 2 if leaving.bars >= 4 else 1
        end = routine.end_beat(leaving)
        found.append(
            Crossing(
                start_beat=end - bars * routine.beats_per_bar,
                end_beat=end,
                leaving=leaving,
                entering=entering,
            )
        )
    return tuple(found)
