"""Whether a routine keeps the rules of a track, told from the truth of the track itself.

Nothing here reads the course that the planner and the checker share: only the pieces that are
played, the passages, and what is true of the track (`Heard` without any mistake).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from heard_tracks import track_second
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.track import Heard
from rondel.model.words import Role

#: Sections so near to the strongest count as strongest, and it has to stand out by so much.
AS_STRONG, STANDS_OUT = 0.05, 0.25

#: Musicians who play together are apart by this share of the interval: Friberg & Sundberg 1995,
#: J. Acoust. Soc. Am. 98: 2524-2531, put the just noticeable jump at 2.5 % (value from the issue).
NOTICEABLE = 0.025

STEP_SECONDS = 0.1
ROUNDING_SECONDS = 1e-4


def broken(routine: Routine, truth: Heard, craft: Craft) -> list[str]:
    """Return the rules of the track that must be kept and are not, each with a place."""
    return [
        *_quiet(routine, truth),
        *_audible(routine, truth, craft),
        *_summit(routine, truth),
        *_ending(routine, truth),
    ]


def _has_beat(routine: Routine, truth: Heard, second: float) -> bool:
    course = routine.music.course
    assert course is not None
    at = track_second(course, second)
    if at is None or not truth.beats:
        return False
    # Beats are written to a millionth of a second; a beatless span ends with the beat after it.
    return not any(span.holds(at + ROUNDING_SECONDS) for span in (*truth.beatless, *truth.unsure))


def _quiet(routine: Routine, truth: Heard) -> Iterator[str]:
    """The opening (90 s, scaled) has no beat, as far as the track begins without one."""
    assert routine.brief is not None
    starts = [s for s in truth.beatless if s.start < 1]
    has = starts[0].end if starts else 0.0
    wanted = min(90 * float(routine.brief.scale), has) - routine.clock.bar_seconds()
    for second in np.arange(0, max(0.0, wanted), STEP_SECONDS):
        if _has_beat(routine, truth, float(second)):
            yield f"quiet at {second:.1f}"
            return


def _audible(routine: Routine, truth: Heard, craft: Craft) -> Iterator[str]:
    """What is struck or goes hand after hand has a beat at every landing.

    A landing that is early by less than is noticeable lands on its beat. Where the truth itself is
    not sure, as only a tune over held tones implies the beat, that is told apart, and does not
    hide what is plainly wrong: the first of each is told.
    """
    told: set[str] = set()
    early = NOTICEABLE * 60 / truth.bpm
    for passage in routine.passages:
        if passage.technique is None or not craft.technique(passage.technique).is_rhythmic:
            continue
        for beat in routine.landings(passage):
            second = routine.clock.seconds_at(beat)
            if not any(_has_beat(routine, truth, second + later) for later in (0, early)):
                at = track_second(routine.music.course, second) if routine.music.course else None
                is_unsure = at is not None and any(span.holds(at) for span in truth.unsure)
                kind = "audible, unsure" if is_unsure else "audible"
                if kind not in told:
                    told.add(kind)
                    yield f"{kind}: {passage.technique} at {second:.1f}"


def _peak(routine: Routine) -> tuple[Passage, ...]:
    line = routine.line
    places = [i for i, p in enumerate(line) if p.role is Role.PEAK]
    past = places[-1] + 1
    while past < len(line) and line[past].role is Role.REST:
        past += 1
    return line[places[0] : past]


def _summit(routine: Routine, truth: Heard) -> Iterator[str]:
    """At least half of the peak has the strongest music of the track, or half of a run of it."""
    if not truth.sections:
        return
    strongest = max(s.energy for s in truth.sections)
    strong = [s for s in truth.sections if s.energy >= strongest - AS_STRONG]
    others = [s for s in truth.sections if s.energy < strongest - AS_STRONG]
    seconds = sum(s.span.seconds for s in others)
    mean = sum(s.energy * s.span.seconds for s in others) / seconds if seconds else 1.0
    if strongest - mean < STANDS_OUT:
        return
    course = routine.music.course
    assert course is not None
    row = _peak(routine)
    start, end = routine.start_seconds(row[0]), routine.end_seconds(row[-1])

    def is_strong(second: float) -> bool:
        at = track_second(course, second)
        return at is not None and any(s.span.holds(at) for s in strong)

    there = [bool(is_strong(s)) for s in np.arange(start, end, STEP_SECONDS)]
    run = _longest_run_around(start, end, is_strong, routine.clock.total_seconds)
    needed = 0.5 * min(end - start, run) - routine.clock.bar_seconds()
    if not any(there) or sum(there) * STEP_SECONDS < needed:
        yield f"summit: the peak from {start:.0f} to {end:.0f}"


def _longest_run_around(start: float, end: float, is_strong: object, total: float) -> float:
    """Return how long the strong music lasts that the peak touches (the longest, of several)."""
    assert callable(is_strong)
    runs, since = [0.0], None
    for second in np.arange(0, total, STEP_SECONDS):
        if is_strong(float(second)):
            since = second if since is None else since
        elif since is not None:
            if since < end and second > start:
                runs.append(float(second - since))
            since = None
    return max(runs)


def _ending(routine: Routine, truth: Heard) -> Iterator[str]:
    """The music ends with the routine, within a bar: by itself, fading, or in a tail."""
    course = routine.music.course
    assert course is not None
    if course.tail_from is not None:
        return
    total, bar = routine.clock.total_seconds, routine.clock.bar_seconds()
    last = course.pieces[-1]
    if abs(last.end - total) > bar:
        yield f"ending: music until {last.end:.1f} of {total:.1f}"
    if truth.seconds - last.source.end > bar and not course.fade_seconds:
        yield "ending: the track is cut off"


def strokes_on_beats(
    routine: Routine, truth: Heard, *, only_heard: bool = False
) -> tuple[int, int]:
    """Return how many strokes land on a true beat, within what is noticeable, and how many land
    where there is music; with `only_heard`, where its beat is heard as well (half beats of a slow
    track count as beats)."""
    course = routine.music.course
    assert course is not None
    beats = np.array(truth.beats)
    beats = np.sort(np.concatenate([beats, (beats[1:] + beats[:-1]) / 2]))
    interval = 60 / truth.bpm
    met = count = 0
    for passage in routine.passages:
        for beat in routine.landings(passage):
            second = routine.clock.seconds_at(beat)
            at = track_second(course, second)
            if only_heard and not _has_beat(routine, truth, second):
                continue
            if at is None or not beats[0] <= at <= beats[-1]:
                continue
            count += 1
            met += bool(np.abs(beats - at).min() <= NOTICEABLE * interval)
    return met, count
