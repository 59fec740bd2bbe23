"""Faults of bars, tempo and strokes: rules `length`, `strokes`, `open`, `load`."""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from faults.pieces import Kinds, Sound, changed, moved_bars, swallowing, swapped
from rondel.model.routine import Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import Role
from rondel.rules.length import MAX_NUDGE
from rondel.rules.load import MAX_SECONDS as LOAD_SECONDS
from rondel.rules.open import MIN_SECONDS as OPEN_SECONDS

KINDS = Kinds()


@KINDS.of("length", "a passage is missing")
def gap(sound: Sound) -> Routine | None:
    gone = sound.pick(sound.line)
    assert gone is not None
    left = tuple(p for p in sound.routine.passages if p.id != gone.id)
    return replace(sound.routine, passages=left)


@KINDS.of("length", "a passage runs into the next")
def overlap(sound: Sound) -> Routine | None:
    longer = sound.pick(sound.line[:-1])
    assert longer is not None
    return changed(sound.routine, [longer], bars=longer.bars + sound.dice.randint(1, 3))


@KINDS.of("length", "the end comes too late")
def too_long(sound: Sound) -> Routine | None:
    more = sound.dice.randint(2, 6)
    longer = changed(sound.routine, sound.line[-1:], bars=sound.line[-1].bars + more)
    return replace(longer, bars=longer.bars + more)


@KINDS.of("length", "the tempo is another")
def other_tempo(sound: Sound) -> Routine | None:
    share = sound.pick([Fraction(95, 100), Fraction(97, 100), Fraction(103, 100)])
    assert share is not None
    return replace(
        sound.routine,
        tempo=tuple(Tempo(bar=t.bar, bpm=t.bpm * share) for t in sound.routine.tempo),
    )


@KINDS.of("length", "the time is kept at a tempo far from the usual one")
def nudged_too_far(sound: Sound) -> Routine | None:
    """Some bars more at the end, all of them quicker, so that the time stays what it was."""
    if sound.brief.bpm is not None:
        return None
    share = Fraction(str(1.5 * MAX_NUDGE)) + Fraction(sound.dice.randint(1, 5), 100)
    bars = math.ceil(sound.routine.bars * share)
    quicker = Fraction(sound.routine.bars + bars, sound.routine.bars)
    longer = changed(sound.routine, sound.line[-1:], bars=sound.line[-1].bars + bars)
    tempo = tuple(Tempo(bar=t.bar, bpm=t.bpm * quicker) for t in sound.routine.tempo)
    return replace(longer, bars=sound.routine.bars + bars, tempo=tempo)


@KINDS.of("length", "two passages change places in the list")
def out_of_order(sound: Sound) -> Routine | None:
    listed = list(sound.routine.passages)
    at = sound.dice.randrange(len(listed) - 1)
    listed[at], listed[at + 1] = listed[at + 1], listed[at]
    return replace(sound.routine, passages=tuple(listed))


def _strokes(sound: Sound) -> list[Passage]:
    return [p for p in sound.worked() if not sound.technique(p).family.is_held]


def _beats(sound: Sound, passage: Passage) -> int:
    return passage.bars * sound.routine.beats_per_bar


@KINDS.of("strokes", "strokes do not fill the passage")
def broken_stroke(sound: Sound) -> Routine | None:
    passage = sound.pick(_strokes(sound))
    if passage is None:
        return None
    beats = _beats(sound, passage)
    uneven = sound.pick([n for n in range(2, beats) if beats % n])
    if uneven is None:
        return None
    return changed(sound.routine, [passage], beats_per_stroke=Fraction(uneven))


@KINDS.of("strokes", "strokes of one and a half beats")
def off_beat(sound: Sound) -> Routine | None:
    passage = sound.pick(_strokes(sound))
    if passage is None:
        return None
    return changed(sound.routine, [passage], beats_per_stroke=Fraction(3, 2))


@KINDS.of("strokes", "strokes at a pace that is not taught")
def wrong_pace(sound: Sound) -> Routine | None:
    beat = sound.bar_seconds / sound.routine.beats_per_bar
    options = []
    for p in _strokes(sound):
        fast, slow = (float(s) for s in sound.technique(p).cycle_seconds)
        beats = _beats(sound, p)
        whole = [Fraction(n) for n in range(1, beats + 1) if beats % n == 0]
        for n in (Fraction(1, 2), *whole):
            if float(n) * beat < fast - 0.1 or float(n) * beat > slow + 0.1:
                options.append((p, n))
    choice = sound.pick(options)
    return changed(sound.routine, [choice[0]], beats_per_stroke=choice[1]) if choice else None


@KINDS.of("strokes", "the first stroke lands after the end")
def late_landing(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.worked())
    assert passage is not None
    late = Fraction(_beats(sound, passage) + sound.dice.randint(0, 4))
    return changed(sound.routine, [passage], first_landing_beat=late)


@KINDS.of("strokes", "a hold is broken in two")
def broken_hold(sound: Sound) -> Routine | None:
    hold = sound.pick(p for p in sound.worked() if sound.technique(p).family.is_held)
    if hold is None:
        return None
    return changed(sound.routine, [hold], beats_per_stroke=Fraction(_beats(sound, hold), 2))


@KINDS.of("open", "the open bars are filled")
def filled(sound: Sound) -> Routine | None:
    passage = sound.pick(p for p in sound.line if p.is_open)
    technique = sound.pick(sound.techniques(lambda t: not t.lateral))
    if passage is None or technique is None:
        return None
    routine = swapped(sound, [passage], technique)
    return changed(routine, [passage], role=Role.WORK, pressure=technique.pressure[0])


@KINDS.of("open", "the open bars are few")
def few_open(sound: Sound) -> Routine | None:
    neighbours = [
        (a, b) if a.is_open else (b, a)
        for a, b in pairwise(sound.line)
        if a.is_open is not b.is_open and (a if a.is_open else b).bars >= 4
    ]
    choice = sound.pick(neighbours)
    if choice is None:
        return None
    open_one, other = choice
    return moved_bars(sound, open_one, other, open_one.bars - 1)


@KINDS.of("open", "open bars in pieces too short to use")
def open_in_crumbs(sound: Sound) -> Routine | None:
    """The time left free stays as it is; one piece of it is under the least."""
    passage = sound.pick(p for p in sound.line if p.is_open)
    short = math.ceil(OPEN_SECONDS * sound.scale / sound.bar_seconds) - 1
    if passage is None or not 1 <= short < passage.bars:
        return None
    first = replace(passage, bars=short)
    past = passage.start_bar + short
    second = replace(passage, id="crumb", start_bar=past, bars=passage.bars - short)
    listed: list[Passage] = []
    for p in sound.routine.passages:
        listed += [first, second] if p.id == passage.id else [p]
    return replace(sound.routine, passages=tuple(listed))


@KINDS.of("open", "open bars not marked as open")
def unmarked_open(sound: Sound) -> Routine | None:
    passage = sound.pick(p for p in sound.line if p.is_open)
    return changed(sound.routine, [passage], role=Role.WORK) if passage else None


@KINDS.of("open", "work marked as open")
def work_as_open(sound: Sound) -> Routine | None:
    passage = sound.pick(sound.ordinary())
    return changed(sound.routine, [passage], role=Role.OPEN) if passage else None


@KINDS.of("load", "one contact works deep too long")
def loaded(sound: Sound) -> Routine | None:
    deep = sound.pick(p for p in sound.line if p.is_deep)
    if deep is None:
        return None
    bars = math.floor(LOAD_SECONDS / sound.bar_seconds + 0.01) + sound.dice.randint(1, 3)
    return swallowing(sound, deep, bars)
