"""The sustained layers: drone, pad, bass and strings. They enter as the pressure rises."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import groupby

from rondel.model.words import Role
from rondel.music.dress import write_veil
from rondel.music.harmony import Chord
from rondel.music.score import Note
from rondel.music.setting import Setting, beats_in

#: The level from which the strings join.
STRINGS_FROM = 0.58

#: The slowest release of any sustained instrument, in seconds: see instruments/sustained.py.
TAIL_SECONDS = 5.0


def _closing(setting: Setting) -> tuple[int, Fraction]:
    """Return the beat where the last passage begins and the beat by which tones are let go."""
    last = setting.routine.line[-1]
    start = setting.routine.start_beat(last)
    room = setting.last_sound_beat - start
    tail = min(beats_in(setting, TAIL_SECONDS), room / 2)
    return start, setting.last_sound_beat - tail


def _ground_under(setting: Setting, chord: Chord) -> tuple[int, ...]:
    """Return the tones held under `chord`: the key's own and its fifth, where nothing rubs.

    A tone a semitone above the fifth silences the fifth; one above the key's own moves the ground
    to the chord's bass. Where the bass plays, only the key's tone is held, an octave up, and rests
    under chords with a tone next to it: two low tones that move apart would grate.
    """
    root = setting.key.root
    above = {(c - root) % 12 for c in chord.classes}
    if setting.has_bass(chord):
        near = any(abs(voice - root - 12) in (1, 2) for voice in chord.voices)
        return () if near or above & {1, 11} else (root + 12,)
    if 1 in above:
        return (chord.bass,)
    return (root,) if 8 in above else (root, root + 7)


def _held_spans(setting: Setting) -> list[tuple[int, Fraction, Fraction]]:
    """Return (pitch, from beat, to beat) of the ground: a tone that chords share runs on."""
    spans: list[tuple[int, Fraction, Fraction]] = []
    open_since: dict[int, int] = {}
    for chord in (*setting.chords, None):
        at = chord.start_bar * setting.meter if chord else setting.beats
        tones = _ground_under(setting, chord) if chord else ()
        for pitch in sorted(open_since):
            if pitch not in tones:
                spans.append((pitch, Fraction(open_since.pop(pitch)), Fraction(at)))
        for pitch in tones:
            open_since.setdefault(pitch, at)
    return spans


def write_drone(setting: Setting) -> tuple[Note, ...]:
    """Return the held ground, from the first beat to the last sound. In the close it thins."""
    closing, let_go = _closing(setting)
    step = Fraction(max(1, beats_in(setting, 32).__ceil__()))
    root = setting.key.root
    notes = []
    for pitch, start, end in _held_spans(setting):
        # The fifth leaves before the root.
        until = min(end, let_go if pitch != root + 7 else Fraction(max(closing, int(start) + 1)))
        at = start
        while at < until:
            passage = setting.routine.passage_at(float(at))
            velocity = 58 + int(10 * setting.level(passage))
            velocity -= {root + 7: 18, root + 12: 12}.get(pitch, 0)
            beats = min(step, until - at)
            notes.append(Note(start=at, beats=beats, pitch=pitch, velocity=velocity))
            at += step
    return tuple(sorted(notes, key=lambda n: (n.start, n.pitch)))


def _arc(chord: Chord) -> int:
    """Return how much a chord leans out of its passage: an arch, fullest past the middle."""
    passage = chord.passage
    share = (chord.start_bar - passage.start_bar) / passage.bars
    return round(7 * math.sin(math.pi * min(1.0, 0.15 + share) ** 1.3))


#: When the middle voices leave in the close, lowest first, in shares of the time they have.
LEAVES = (1.0, 0.7, 0.4, 0.0)


def _leaving(setting: Setting) -> tuple[Fraction, ...]:
    """Return the beats by which the middle voices have left, lowest first: one after another."""
    closing, let_go = _closing(setting)
    return tuple(
        closing + (let_go - closing) * Fraction(share).limit_denominator(16) for share in LEAVES
    )


def write_pad(setting: Setting) -> tuple[Note, ...]:
    """Return the middle voices. A voice that stays from chord to chord is held on."""
    leaves = _leaving(setting)
    notes: list[Note] = []
    held: dict[int, tuple[Fraction, int, int]] = {}

    def release(pitch: int, at: Fraction) -> None:
        start, velocity, place = held.pop(pitch)
        end = min(at, leaves[place])
        if end > start:
            notes.append(Note(start=start, beats=end - start, pitch=pitch, velocity=velocity))

    for chord in setting.chords:
        at = Fraction(chord.start_bar * setting.meter)
        is_start = chord.phrase.is_first and chord.start_bar == chord.phrase.start_bar
        for pitch in [p for p in held if p not in chord.voices or is_start]:
            release(pitch, at)
        for place, pitch in enumerate(chord.voices):
            if pitch not in held:
                velocity = 49 + int(26 * setting.level(chord.passage)) - 3 * place + _arc(chord)
                held[pitch] = (at, velocity, place)
    for pitch in list(held):
        release(pitch, leaves[0])
    return tuple(sorted(notes, key=lambda n: (n.start, n.pitch)))


def write_bass(setting: Setting) -> tuple[Note, ...]:
    """Return the lowest voice, below firm work within the heard beats.

    It is led with the other voices; a long chord is taken up again half way, an octave or a fifth
    from where it was, so that the ground moves too.
    """
    notes = []
    for chord in setting.chords:
        if not setting.has_bass(chord):
            continue
        start, meter = Fraction(chord.start_bar * setting.meter), setting.meter
        velocity = 46 + int(24 * setting.level(chord.passage))
        first = (chord.bars + 1) // 2 if chord.bars > 2 else chord.bars
        parts = [(start, first, chord.bass)]
        if first < chord.bars:
            parts.append((start + first * meter, chord.bars - first, _other_bass(chord)))
        for at, bars, pitch in parts:
            beats = Fraction(bars * meter)
            notes.append(Note(start=at, beats=beats, pitch=pitch, velocity=velocity))
    return tuple(notes)


def _other_bass(chord: Chord) -> int:
    """Return another tone for the bass of a long chord: its fifth or its octave."""
    fifth = chord.classes[2]
    near = [p for p in range(36, 51) if p % 12 in (fifth, chord.bass % 12) and p != chord.bass]
    return min(near, key=lambda p: (abs(p - chord.bass), p), default=chord.bass)


def _upper_tone(
    setting: Setting, chord: Chord, before: tuple[int, int] | None, share: float
) -> int:
    """Return the next tone of the upper line: near the last one, on an arch, and lawful.

    `before` is the last tone and the bass under it, `share` how much of the passage is over.
    """
    top = 68 + 7 * math.sin(math.pi * min(1.0, 0.2 + 0.7 * share))

    def cost(pitch: int) -> tuple[float, int]:
        total = 0.5 * abs(pitch - top)
        if before is not None:
            last, bass = before
            move = abs(pitch - last)
            total += 2.5 if move == 0 else 0.4 * move + (6.0 if move > 7 else 0.0)
            now, then = (last - bass) % 12, (pitch - chord.bass) % 12
            if move and bass != chord.bass and now == then and now in (0, 7):
                total += 20.0  # parallel fifths or octaves with the bass
        return total + setting.chance.unit("strings", *chord.phrase.key, chord.degree, pitch), pitch

    tones = (p for p in chord.tones(60, 79) if p % 12 in chord.classes[:3])
    return min(tones, key=cost)


def write_strings(setting: Setting) -> tuple[Note, ...]:
    """Return a slow upper line over the firmest work; at the peak a second voice below it.

    In the refrain they stay away, until it has returned so often that it may be dressed.
    """
    notes = []
    for passage, group in groupby(setting.chords, key=lambda c: c.passage):
        level = setting.level(passage)
        if level < STRINGS_FROM or passage.role is Role.REFRAIN:
            continue
        before: tuple[int, int] | None = None
        for chord in group:
            start, end = chord.start_bar * setting.meter, chord.end_bar * setting.meter
            if not (setting.is_heard(start) and setting.is_heard(end - 1)):
                continue
            share = (chord.start_bar - passage.start_bar) / passage.bars
            pitch = _upper_tone(setting, chord, before, share)
            before = pitch, chord.bass
            velocity = 40 + int(30 * level) + _arc(chord) // 2
            at, beats = Fraction(start), Fraction(end - start)
            notes.append(Note(start=at, beats=beats, pitch=pitch, velocity=velocity))
            if passage.role is Role.PEAK:
                below = max(chord.tones(pitch - 9, pitch - 3), default=chord.nearest(pitch - 9))
                notes.append(Note(start=at, beats=beats, pitch=below, velocity=velocity - 8))
    return tuple(sorted([*notes, *write_veil(setting)], key=lambda n: (n.start, n.pitch)))
