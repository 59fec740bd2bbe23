"""Chords over phrases: each phrase sets out, moves on, and comes to an open or a closed end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rondel.model.routine import Passage, Routine
from rondel.model.words import Role
from rondel.music.chance import Chance
from rondel.music.modes import MOVES, OPEN, Character, Key
from rondel.music.phrases import Ending, Phrase, Unit, split
from rondel.music.voicing import Placed, lead_through, lies_best

#: Chords of arrival and close stay so many times as long.
CALM = 1.6
CALM_ROLES = (Role.ARRIVE, Role.CLOSE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chord:
    """One harmony over whole bars of one passage.

    `voices` are the pitches of the middle voices, rising; `bass` is the tone below them, the root
    or the third.
    """

    start_bar: int
    bars: int
    degree: int
    classes: tuple[int, ...]
    voices: tuple[int, ...]
    bass: int
    passage: Passage
    phrase: Phrase

    @property
    def end_bar(self) -> int:
        return self.start_bar + self.bars

    def nearest(self, pitch: int) -> int:
        """Return the tone of this chord nearest to `pitch`; ties go down."""
        found = (p for p in range(pitch - 6, pitch + 7) if p % 12 in self.classes)
        return min(found, key=lambda p: (abs(p - pitch), p))

    def root_near(self, pitch: int) -> int:
        """Return the chord's root in the octave that centres on `pitch`."""
        return pitch - 6 + (self.classes[0] - (pitch - 6)) % 12

    def tones(self, lowest: int, highest: int) -> list[int]:
        """Return every tone of this chord from `lowest` to `highest`."""
        return [p for p in range(lowest, highest + 1) if p % 12 in self.classes]


@dataclass(frozen=True, slots=True)
class _Step:
    """A chord before it is voiced: its phrase, first bar, bars and degree."""

    phrase: Phrase
    start_bar: int
    bars: int
    degree: int


def _ways(mode: str, starts: Sequence[int], ends: Sequence[int], count: int) -> list[list[int]]:
    """Return every way of `count` chords from one of `starts` to one of `ends`.

    Those that go back and forth lead nowhere; they are taken only where there are no others.
    """

    def on(way: list[int]) -> Iterator[list[int]]:
        if len(way) == count:
            if way[-1] in ends:
                yield way
            return
        for degree in MOVES[mode][way[-1]]:
            yield from on([*way, degree])

    ways = [way for start in starts for way in on([start])]
    return [way for way in ways if all(a != c for a, c in zip(way, way[2:], strict=False))] or ways


def _degrees(
    phrase: Phrase,
    before: int | None,
    last: Sequence[int],
    count: int,
    mode: str,
    chance: Chance,
) -> list[int]:
    """Return the degrees of a phrase of `count` chords that follows the degree `before`.

    `last` are the degrees of the phrase before it in the same passage, if there is one.
    """
    ends = (0,) if phrase.ending is Ending.CLOSED else OPEN[mode]
    if before is None or (phrase.is_first and before != 0):
        starts: tuple[int, ...] = (0,)
    else:
        starts = MOVES[mode][before]
        if phrase.is_first:  # away from where the last one came to rest, but not at once to an end
            starts = tuple(d for d in starts if d not in OPEN[mode]) or starts
    for sets_out in (starts, tuple(MOVES[mode])):
        ways = _ways(mode, [d for d in sets_out if d != before], ends, count)
        fresh = _fresh(ways, last)
        if fresh:
            return chance.pick(fresh, "degrees", *phrase.key, count, phrase.ending)
    return [0] * count


def _fresh(ways: list[list[int]], last: Sequence[int]) -> list[list[int]]:
    """Return the ways that are least like the phrase before: other ends, if any, other starts."""
    if not last:
        return ways
    found = [way for way in ways if way[-1] != last[-1]] or ways
    return [way for way in found if way[0] != last[0]] or found


def _count(phrase: Phrase, bar_seconds: float, character: Character, chance: Chance) -> int:
    """Return how many chords a phrase has: at least one to set out from and one to come to."""
    calm = CALM if phrase.row[0].role in CALM_ROLES else 1.0
    wish = phrase.bars * bar_seconds / (character.chord_seconds * calm)
    count = int(wish + chance.unit("harmonic rhythm", *phrase.key))
    return min(phrase.bars, 5, max(2, count))


def _tune_degrees(unit: Unit, bar_seconds: float, mode: str, setup: _Setup) -> list[int]:
    """Return the degree of each of the four bars of the tune, or of its echo.

    The echo is the first half of the tune over the same chords; then it leads back.
    """
    chance = setup.chance
    is_quick = setup.character.chord_seconds <= bar_seconds * 1.5
    close = chance.pick([d for d in OPEN[mode] if 0 in MOVES[mode][d]], "home close")
    away = [d for d in MOVES[mode][0] if close in MOVES[mode][d] and d != close]
    first = [0, chance.pick(away, "home away")] if is_quick and away else [0, 0]
    if unit is Unit.WHOLE:
        return [*first, close, 0]
    others = [d for d in OPEN[mode] if d in MOVES[mode][first[1]] and d != close]
    leads = chance.pick(others or [close], "home leads")
    return [*first, leads, leads]


def _tune_steps(phrase: Phrase, bar_seconds: float, key: Key, setup: _Setup) -> list[_Step]:
    """Return the chords under the tune of the refrain or its echo: the same at every return."""
    degrees = _tune_degrees(phrase.unit, bar_seconds, key.mode, setup)
    steps: list[_Step] = []
    for bar, degree in enumerate(degrees[: phrase.bars]):
        if steps and steps[-1].degree == degree:
            last = steps.pop()
            steps.append(_Step(phrase, last.start_bar, last.bars + 1, degree))
        else:
            steps.append(_Step(phrase, phrase.start_bar + bar, 1, degree))
    return steps


@dataclass(frozen=True, slots=True)
class _Setup:
    character: Character
    chance: Chance


def _steps(routine: Routine, phrases: tuple[Phrase, ...], key: Key, setup: _Setup) -> list[_Step]:
    """Return the chords of the routine, not yet voiced. None reaches over a passage's end."""
    bar_seconds = routine.clock.bar_seconds()
    steps: list[_Step] = []
    degrees: list[int] = []
    for phrase in phrases:
        before = steps[-1].degree if steps else None
        if phrase.unit is not Unit.NONE:
            found = _tune_steps(phrase, bar_seconds, key, setup)
        elif phrase.row[0].role is Role.REFRAIN:
            found = [_Step(phrase, phrase.start_bar, phrase.bars, 0)]
        else:
            count = _count(phrase, bar_seconds, setup.character, setup.chance)
            last = [] if phrase.is_first else degrees
            degrees = _degrees(phrase, before, last, count, key.mode, setup.chance)
            found, at = [], phrase.start_bar
            for bars, degree in zip(split(phrase.bars, count), degrees, strict=True):
                found.append(_Step(phrase, at, bars, degree))
                at += bars
        steps += [piece for step in found for piece in _cut(step)]
    return steps


def _cut(step: _Step) -> Iterator[_Step]:
    """Cut a chord where a passage of its row ends."""
    at, end = step.start_bar, step.start_bar + step.bars
    for passage in step.phrase.row:
        until = min(end, passage.end_bar)
        if until > at:
            yield _Step(step.phrase, at, until - at, step.degree)
            at = until


def harmonise(
    routine: Routine,
    phrases: tuple[Phrase, ...],
    key: Key,
    character: Character,
    chance: Chance,
) -> tuple[Chord, ...]:
    """Return the chords of the whole routine, gapless. Every return of the refrain has the same.

    Each row of passages is voiced by itself: from where its first chord lies best, or from the
    refrain, which never changes, to where the next row begins. So a change in one leaves the
    voices of all that follow alone.
    """
    at = chance.between(0, len(character.colours) - 1, "colour")
    colours = (*character.colours[at:], *character.colours[:at])
    rows: list[list[_Step]] = []
    for step in _steps(routine, phrases, key, _Setup(character, chance)):
        if not rows or rows[-1][-1].phrase.row is not step.phrase.row:
            rows.append([])
        rows[-1].append(step)

    def classes_of(step: _Step) -> tuple[int, ...]:
        # Under the motif nothing rubs against it.
        is_home = step.phrase.row[0].role is Role.REFRAIN
        return key.chord(step.degree, colours, is_clear=is_home)

    ground = (key.root + 7, key.root + 12)  # see ground.write_drone
    chords: list[Chord] = []
    home: Placed | None = None  # where the refrain ended, right after it
    for row, following in zip(rows, (*rows[1:], None), strict=True):
        is_home = row[0].phrase.row[0].role is Role.REFRAIN
        aim = None
        if following is not None and not is_home:
            aim = lies_best(classes_of(following[0]), ground)
        classes = [classes_of(step) for step in row]
        placed = lead_through(classes, None if is_home else home, aim, ground)
        home = placed[-1] if is_home else None
        chords += [_chord(s, p) for s, p in zip(row, placed, strict=True)]
    return tuple(chords)


def _chord(step: _Step, placed: Placed) -> Chord:
    passage = next(p for p in step.phrase.row if step.start_bar < p.end_bar)
    return Chord(
        start_bar=step.start_bar,
        bars=step.bars,
        degree=step.degree,
        classes=placed.classes,
        voices=placed.voiced.voices,
        bass=placed.voiced.bass,
        passage=passage,
        phrase=step.phrase,
    )
