"""The soft piano: free tones before the beat, broken chords within it, a song where hands land."""

from __future__ import annotations

import math
from fractions import Fraction

from rondel.model.routine import Passage
from rondel.model.words import Role
from rondel.music.dress import write_joining
from rondel.music.harmony import Chord
from rondel.music.score import Note
from rondel.music.setting import Setting, beats_in
from rondel.music.song import write_song

#: How broken chords may run through the tones of a chord, from the lowest (0) up.
RUNS = (
    (0, 2, 1, 3),
    (0, 1, 2, 3, 2, 1),
    (0, 2, 3, 1),
    (0, 3, 2, 1),
    (1, 0, 2, 3),
    (0, 1, 3, 2),
    (2, 0, 1, 3),
    (0, 2, 1, 2, 3, 1),
)

#: The broken chords lie below this pitch, so that motif and song stand free above them.
HIGHEST_FIGURE = 65

#: Free tones wander between these pitches.
LOWEST_FREE, HIGHEST_FREE = 57, 76


def _free_tones(setting: Setting, start: Fraction, end: Fraction, wider: float) -> list[Note]:
    """Return single tones at uneven distances that make no pulse; `wider` stretches the gaps.

    They wander through the chords by small steps, up and down again, as if someone were listening
    for where to begin.
    """
    notes: list[Note] = []
    chance = setting.chance
    at = _off_grid(start + beats_in(setting, 2.3))
    last_gap, last = 0.0, chance.between(60, 68, "free first", wider)
    way = 1
    while at < end:
        pitch = _wander(setting, at, last, way)
        if chance.unit("free turn", at - start) < 0.3 or not 59 < pitch < 74:
            way = -1 if pitch > last else 1
        last = pitch
        velocity = chance.between(30, 46, "free touch", at - start)
        notes.append(Note(start=at, beats=beats_in(setting, 5.0), pitch=pitch, velocity=velocity))
        gap = 3.3 + 4.4 * chance.unit("free gap", at - start)
        if abs(gap - last_gap) < 0.9:  # three tones in an even row would suggest a beat
            gap = last_gap + 1.4 if last_gap < 5.5 else last_gap - 1.4
        last_gap = gap
        at = _off_grid(at + beats_in(setting, gap * wider))
    return notes


def _wander(setting: Setting, at: Fraction, last: int, way: int) -> int:
    """Return a tone of the chord near `last`, rather in the direction of `way`, not `last`."""
    tones = [p for p in setting.chord_at(at).tones(LOWEST_FREE, HIGHEST_FREE) if p != last]

    def cost(pitch: int) -> tuple[float, int]:
        move = (pitch - last) * way
        against = 3.0 if move < 0 else 0.0
        return abs(move - 4) + against + 3 * setting.chance.unit("free pitch", at, pitch), pitch

    return min(tones, key=cost)


def _off_grid(beat: Fraction) -> Fraction:
    """Return `beat`, moved off whole and half beats where it stands near one."""
    past = beat * 2 % 1
    return beat + Fraction(5, 32) if min(past, 1 - past) < Fraction(3, 16) else beat


def _share(setting: Setting, passage: Passage) -> float:
    """Return how much of the texture the piano takes; at the peak it makes room for the swell."""
    return 0.3 if passage.role is Role.PEAK else min(0.7, setting.level(passage))


def _name(passage: Passage) -> str:
    """Return what the figure of a passage is chosen by: both sides have the same."""
    return "home" if passage.role is Role.REFRAIN else passage.technique or passage.id


def _places(setting: Setting, passage: Passage, bar: int) -> list[Fraction]:
    """Return where in `bar` the broken chord sounds, in beats from the bar's start.

    A technique keeps one rhythm, so that it is recognised; the second and fourth bar of a phrase
    leave something out or put it elsewhere, and its last bar breathes.
    """
    meter, chance = setting.meter, setting.chance
    phrase = setting.by_bar[bar].phrase
    in_phrase = bar - phrase.start_bar
    density = setting.character.density
    wish = (1.6 if passage.role is Role.REFRAIN else 0.9 + 3.0 * _share(setting, passage)) * density
    if in_phrase == phrase.bars - 1 and phrase.bars > 1:
        wish *= 0.5
    elif in_phrase % 2:
        wish *= 0.8
    beat_seconds = setting.routine.clock.bar_seconds() / meter
    step = Fraction(1, 2) if beat_seconds * 0.5 >= 0.38 else Fraction(1)
    slots = [k * step for k in range(int(meter / step))]
    name = _name(passage)

    def weight(slot: Fraction) -> tuple[float, Fraction]:
        on_beat = 1.0 if slot == 0 else 0.55 if slot.denominator == 1 else 0.4
        sway = 0.25 * chance.unit("bar sway", name, *phrase.key, in_phrase, slot)
        return -(on_beat + 0.6 * chance.unit("figure", name, slot) + sway), slot

    most = max(1, round(0.8 * len(slots)))
    least = wish + 0.8 * chance.unit("how many", *phrase.key, in_phrase)
    return sorted(sorted(slots, key=weight)[: min(most, max(1, round(least)))])


def _ladder(setting: Setting, chord: Chord) -> list[int]:
    """Return the tones a broken chord runs through, four or more from the lowest up."""
    tones = {v if v <= HIGHEST_FIGURE else v - 12 for v in chord.voices}
    if len(tones) < 4:
        tones.add(chord.root_near(55))
    return sorted(tones)


def _figure(setting: Setting, passage: Passage, bar: int, struck: int, last: int) -> list[Note]:
    """Return the broken chord of one bar, in its technique's own run; never a tone twice.

    `struck` counts the tones that the phrase had before: the run goes on over the bar line.
    """
    chance, meter = setting.chance, setting.meter
    chord = setting.by_bar[bar]
    phrase = chord.phrase
    in_phrase = bar - phrase.start_bar
    run = chance.pick(RUNS, "run", _name(passage))
    turn = chance.between(0, 2, "turn", *phrase.key)
    ladder = _ladder(setting, chord)
    arch = round(5 * math.sin(math.pi * min(1.0, 0.15 + in_phrase / phrase.bars)))
    notes = []
    for count, place in enumerate(_places(setting, passage, bar)):
        at = run[(struck + count + turn) % len(run)] % len(ladder)
        if ladder[at] == last:
            at = (at + 1) % len(ladder)
        last = ladder[at]
        key = ("touch", _name(passage), *phrase.key, in_phrase, place)
        velocity = 32 + int(18 * _share(setting, passage)) + (5 if place == 0 else 0) + arch
        notes.append(
            Note(
                start=bar * meter + place,
                beats=Fraction(meter) - place + 1,
                pitch=ladder[at],
                velocity=velocity + chance.between(-6, 6, *key),
                nudge_ms=setting.nudge(7, *key),
            )
        )
    return notes


def _clear(figure: list[Note], song: list[Note]) -> list[Note]:
    """Return the tones of `figure` that no tone of `song` covers: same time or same pitch near."""
    kept = []
    for note in figure:
        near = [s for s in song if abs(s.start - note.start) < 1]
        is_same = any(s.start == note.start or s.pitch == note.pitch for s in near)
        if not is_same and not any(abs(s.start - note.start) < Fraction(1, 2) for s in near):
            kept.append(note)
    return kept


def write_piano(setting: Setting) -> tuple[Note, ...]:
    """Return the piano of the whole form; in the close it grows rare and stops first."""
    first, past = setting.heard
    notes = _free_tones(setting, Fraction(0), Fraction(first) - 1, 1.0)
    joining = write_joining(setting)
    notes += joining
    for passage in setting.routine.line:
        song = write_song(setting, passage)
        notes += song
        start, end = setting.routine.start_beat(passage), setting.routine.end_beat(passage)
        upper = song + [n for n in joining if start <= n.start < end]
        struck = last = 0
        for bar in range(passage.start_bar, passage.end_bar):
            if not setting.is_heard(bar * setting.meter):
                continue
            if bar == setting.by_bar[bar].phrase.start_bar:
                struck = 0
            near = [n for n in upper if bar - 1 <= n.start / setting.meter < bar + 2]
            figure = _clear(_figure(setting, passage, bar, struck, last), near)
            notes += figure
            struck += len(figure)
            last = figure[-1].pitch if figure else last
    closing = Fraction(setting.beats - past)
    notes.extend(_free_tones(setting, Fraction(past), past + closing * Fraction(5, 8), 1.4))
    return tuple(sorted(map(setting.pedalled, notes), key=lambda n: (n.start, n.pitch)))
