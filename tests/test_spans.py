"""Where a beat may be heard follows the rules `opening` and `close`, by the brief's own minutes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from rondel.model.brief import Brief
from rondel.model.routine import Music, Passage, Routine
from rondel.model.spans import audible_beats, crossings, heard_beats, times_scale
from rondel.model.time import Tempo
from rondel.model.track import Course, Piece, Span
from rondel.model.words import Intention, Position, Role, Side


def passage(at: int, bars: int, role: Role) -> Passage:
    return Passage(
        id=f"p{at}",
        technique="any",
        role=role,
        side=Side.BOTH,
        position=Position.PRONE,
        start_bar=at,
        bars=bars,
        pressure=1,
        beats_per_stroke=Fraction(4),
        first_landing_beat=Fraction(0),
    )


def routine_of(minutes: int, bpm: int, bars: int) -> Routine:
    return Routine(
        title="Spans",
        seed=1,
        beats_per_bar=4,
        tempo=(Tempo(bar=0, bpm=Fraction(bpm)),),
        bars=bars,
        passages=(passage(0, bars - 3, Role.WORK), passage(bars - 3, 3, Role.CLOSE)),
        brief=Brief(title="Spans", minutes=Fraction(minutes), intention=Intention.WAKE, level=1),
    )


@pytest.mark.parametrize(
    ("minutes", "bpm", "bars"),
    [(3, 65, 48), (3, 60, 45), (4, 63, 62), (15, 60, 225), (60, 52, 780)],
)
def test_no_beat_in_the_opening_nor_in_the_close(minutes: int, bpm: int, bars: int) -> None:
    # Rule book, `opening`: 90 s, and `close`: 60 s, times s = min(1, minutes / 6) of the brief.
    routine = routine_of(minutes, bpm, bars)
    s = min(1.0, minutes / 6)
    first, past = heard_beats(routine)
    assert first % 4 == past % 4 == 0
    assert routine.clock.seconds_at(first) >= 90 * s
    assert routine.clock.seconds_at(first - 4) < 90 * s
    closing = routine.clock.seconds_at_bar(bars - 3)
    assert routine.clock.seconds_at(past) <= max(closing, routine.clock.total_seconds - 60 * s)


def test_without_a_brief_the_length_counts() -> None:
    routine = replace(routine_of(3, 60, 45), brief=None)
    assert times_scale(routine) == 0.5


def test_a_crossing_takes_two_bars_and_ends_on_the_change() -> None:
    (crossing,) = crossings(routine_of(3, 60, 45))
    assert (crossing.start_beat, crossing.end_beat) == (160, 168)


def test_the_beats_of_a_track_are_those_that_its_course_hears() -> None:
    routine = routine_of(3, 60, 45)
    assert audible_beats(routine) == tuple(range(*heard_beats(routine)))
    heard = tuple(bar in (3, 4, 7) for bar in range(45))
    course = Course(
        heard=heard,
        energy=(0.5,) * 45,
        phrases=(0,),
        turns=(),
        homes=(),
        strongest=(3, 5),
        stands_out=False,
        pieces=(Piece(source=Span(start=0, end=180), at=0),),
    )
    seconds = tuple(0.5 + b for b in range(181))
    track = Music(kind="track", path="a.flac", beat_seconds=seconds, course=course)
    brought = replace(routine, music=track)
    assert audible_beats(brought) == (*range(12, 20), *range(28, 32))
    assert heard_beats(brought) == (12, 32)
    unheard = replace(course, heard=(False,) * 45)
    silent = replace(routine, music=replace(track, course=unheard))
    assert (audible_beats(silent), heard_beats(silent)) == ((), (0, 0))
    # Without a course the file is taken at its word.
    plain = replace(routine, music=replace(track, course=None))
    assert audible_beats(plain) == tuple(range(180))
