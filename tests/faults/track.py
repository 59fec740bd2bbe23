"""Faults of a routine on a brought track: rules `phrase` to `ending`."""

from __future__ import annotations

from dataclasses import replace

from faults.pieces import Kinds, Sound, changed, moved_bars
from rondel.model.routine import Routine
from rondel.model.track import Course
from rondel.model.words import Role
from rondel.rules.opening import SECONDS as OPENING_SECONDS

KINDS = Kinds()


def _course(sound: Sound) -> Course:
    course = sound.routine.music.course
    assert course is not None
    return course


def with_course(routine: Routine, **what: object) -> Routine:
    """Return `routine` on a course that differs in `what`."""
    course = routine.music.course
    assert course is not None
    course = replace(course, **what)  # type: ignore[arg-type]
    return replace(routine, music=replace(routine.music, course=course))


@KINDS.of("phrase", "a passage begins a bar late")
def late(sound: Sound) -> Routine | None:
    phrases = set(_course(sound).phrases)
    able = [
        (a, b)
        for a, b in zip(sound.line, sound.line[1:], strict=False)
        if b.role in (Role.WORK, Role.CLOSE) and b.bars > 1 and b.start_bar in phrases
        if b.start_bar + 1 not in phrases
    ]
    pair = sound.pick(able)
    return moved_bars(sound, pair[1], pair[0], 1) if pair else None


@KINDS.of("quiet", "the beat sets in early")
def early_beat(sound: Sound) -> Routine | None:
    course, bar = _course(sound), sound.bar_seconds
    least = min(OPENING_SECONDS * sound.scale, course.quiet_seconds)
    bars = int(least / bar) - 3
    if bars < 1:
        return None
    first = sound.dice.randrange(bars)
    heard = tuple(bar >= first or is_heard for bar, is_heard in enumerate(course.heard))
    return with_course(sound.routine, heard=heard)


@KINDS.of("audible", "a rhythm where the track is silent")
def silent_rhythm(sound: Sound) -> Routine | None:
    course = _course(sound)
    quiet = [p for p in sound.line if not all(course.heard[p.start_bar : p.end_bar])]
    drums = sound.techniques(lambda t: t.is_rhythmic)
    passage, technique = sound.pick(quiet), sound.pick(drums)
    if passage is None or technique is None:
        return None
    return changed(sound.routine, [passage], technique=technique.id)


@KINDS.of("audible", "the beat pauses under a rhythm")
def pause(sound: Sound) -> Routine | None:
    rhythmic = [p for p in sound.worked() if sound.technique(p).is_rhythmic]
    passage = sound.pick(rhythmic)
    if passage is None:
        return None
    bar = sound.dice.randrange(passage.start_bar, passage.end_bar)
    heard = list(_course(sound).heard)
    heard[bar] = False
    return with_course(sound.routine, heard=tuple(heard))


@KINDS.of("home", "the motif returns elsewhere")
def elsewhere(sound: Sound) -> Routine | None:
    starts = [row[0].start_bar for row in sound.routine.refrains]
    away = [b for b in range(sound.routine.bars) if all(abs(b - s) > 1 for s in starts)]
    if not starts:
        return None
    homes = sorted(sound.dice.sample(away, min(3, len(away))))
    return with_course(sound.routine, homes=tuple(homes))


@KINDS.of("summit", "the strongest section comes after the peak")
def late_summit(sound: Sound) -> Routine | None:
    row = sound.peak_row()
    first = row[-1].end_bar
    if sound.routine.bars - first < 4:
        return None
    return with_course(sound.routine, strongest=(first, sound.routine.bars))


@KINDS.of("summit", "the strongest section is over before the peak")
def early_summit(sound: Sound) -> Routine | None:
    row = sound.peak_row()
    past = row[0].start_bar
    return with_course(sound.routine, strongest=(max(0, past - 12), past)) if past > 0 else None


@KINDS.of("turns", "the track changes in the midst of a passage")
def midst(sound: Sound) -> Routine | None:
    passage = sound.pick(p for p in sound.line if p.bars >= 5)
    if passage is None:
        return None
    turn = sound.dice.randrange(passage.start_bar + 2, passage.end_bar - 1)
    return with_course(sound.routine, turns=(turn,))


@KINDS.of("ending", "the music is over too early")
def over_early(sound: Sound) -> Routine | None:
    course = _course(sound)
    *before, last = course.pieces
    short = 2 * sound.bar_seconds + sound.dice.random() * 5
    if course.tail_from is not None or last.source.seconds < short + 1:
        return None
    source = replace(last.source, end=last.source.end - short)
    pieces = (*before, replace(last, source=source))
    return with_course(sound.routine, pieces=pieces, track_seconds=source.end)


@KINDS.of("ending", "the music breaks off")
def broken_off(sound: Sound) -> Routine | None:
    course = _course(sound)
    if course.tail_from is not None:
        return None
    lasts = course.pieces[-1].source.end + 30 + sound.dice.random() * 100
    return with_course(sound.routine, fade_seconds=0.0, track_seconds=lasts)
