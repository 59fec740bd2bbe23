"""What of a routine its brought track decided, told with the reasons of each passage."""

from __future__ import annotations

from dataclasses import replace

from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.model.track import Course
from rondel.model.words import Role
from rondel.planner.constraints import audible, home, turns
from rondel.planner.track_costs import peak_row
from rondel.rules.summit import SHARE

#: A passage is told of in so many sentences at most.
MOST = 3


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
            if home.is_home(passage.start_bar, course.homes):
                return "The track's motif returns here, so the hands come home with it."
            return ""
        near = [turn for turn in course.turns if not turns.missed(turn, [passage.start_bar])]
        if near and passage.start_bar:
            return f"Begins as the track changes, at {self._at(near[0])}."
        technique = self.craft.technique(passage.technique) if passage.technique else None
        if audible.asks_beat(technique):
            return "The beat that it needs can be heard here."
        return ""

    def _at(self, bar: int) -> str:
        return as_minutes(self.routine.clock.seconds_at_bar(bar))

    def _meets_summit(self) -> bool:
        row, at = peak_row(self.routine), self.routine.clock.seconds_at_bar
        first, past = (at(bar) for bar in self.course.strongest)
        start, end = self.routine.start_seconds(row[0]), self.routine.end_seconds(row[-1])
        return min(end, past) - max(start, first) >= SHARE * min(end - start, past - first)
