"""What of a routine its brought track decided, told with the reasons of each passage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.track import Course
from rondel.model.words import Role
from rondel.planner.constraints import audible, home, turns
from rondel.planner.track_costs import counts, peak_row
from rondel.rules.summit import SHARE

#: A passage is told of in so many sentences at most.
MOST = 3

#: What is said of a refrain by the bars from its start to that of the motif.
_HOME_SAYS = {
    0: "The track's motif returns here, so the hands come home with it.",
    1: "The track's motif returns a bar later, when the hands are just home.",
    -1: "The track's motif returned a bar before, and the hands come home to it.",
}


def with_track_reasons(routine: Routine, craft: Craft) -> Routine:
    """Return `routine` with what the track decided of each passage; as it is without a course."""
    course = routine.music.course
    if course is None or not routine.passages:
        return routine
    tell = _Teller(routine, course, craft)
    passages = []
    for passage in routine.passages:
        says = tell.of(passage)
        if says and says not in passage.why:
            passage = replace(passage, why=(*passage.why[: MOST - 1], says))
        passages.append(passage)
    return replace(routine, passages=tuple(passages))


def _nearest(bars: Sequence[int], bar: int) -> int:
    """Return the one of `bars` that lies nearest to `bar`, the earlier of two as near."""
    return min(bars, key=lambda one: (abs(one - bar), one))


class _Teller:
    """Tells of the passages of one routine."""

    def __init__(self, routine: Routine, course: Course, craft: Craft) -> None:
        self.routine, self.course, self.craft = routine, course, craft
        has_peak = any(p.role is Role.PEAK for p in routine.line)
        self.peak = peak_row(routine)[0] if has_peak else None
        self.homes = {row[0].id for row in routine.refrains}

    def of(self, passage: Passage) -> str:
        """Return the weightiest thing that the track decided; "" where it decided nothing."""
        course = self.course
        if passage == self.peak and self._meets_summit():
            first, past = (self._at(bar) for bar in course.strongest)
            return f"The track is strongest from {first} to {past}, and the peak meets it."
        if passage.id in self.homes and course.homes:
            came = _nearest(course.homes, passage.start_bar)
            if home.is_home(passage.start_bar, course.homes):
                return _HOME_SAYS[came - passage.start_bar]
        if passage.start_bar and course.turns:
            turn = _nearest(course.turns, passage.start_bar)
            if not turns.missed(turn, [passage.start_bar]):
                return self._turn_says(passage, turn)
        technique = self.craft.technique(passage.technique) if passage.technique else None
        if audible.asks_beat(technique):
            return "The beat that it needs can be heard here."
        return ""

    def _turn_says(self, passage: Passage, turn: int) -> str:
        """Tell how `passage` begins beside the track's `turn`, just there or a bar from it."""
        at = self._at(turn)
        if turn == passage.start_bar:
            return f"Begins as the track changes, at {at}."
        way = "before" if passage.start_bar < turn else "after"
        place = self.routine.line.index(passage)
        is_astray = passage.start_bar not in self.course.phrases
        beside = (
            ", in the midst of a phrase" if is_astray and counts(self.routine.line, place) else ""
        )
        return f"Begins a bar {way} the track changes, at {at}{beside}."

    def _at(self, bar: int) -> str:
        return as_minutes(self.routine.clock.seconds_at_bar(bar))

    def _meets_summit(self) -> bool:
        row, at = peak_row(self.routine), self.routine.clock.seconds_at_bar
        first, past = (at(bar) for bar in self.course.strongest)
        start, end = self.routine.start_seconds(row[0]), self.routine.end_seconds(row[-1])
        return min(end, past) - max(start, first) >= SHARE * min(end - start, past - first)
