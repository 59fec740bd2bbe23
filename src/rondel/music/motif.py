"""The refrain's own melody: one motif, one timbre, the same at every return, and nowhere else."""

from __future__ import annotations

from fractions import Fraction

from rondel.model.routine import Passage
from rondel.music.score import Note
from rondel.music.setting import Setting

#: Rises and answers among the five tones, as places above the root (5 is the octave).
RISES = ((5, 6, 7, 9), (7, 8, 9, 8), (4, 5, 7, 8), (5, 7, 6, 8), (7, 9, 8, 10))
ANSWERS = ((9, 8, 7, 5), (8, 9, 7, 5), (7, 6, 4, 5), (8, 7, 6, 5), (9, 7, 6, 5))

#: Where the three tones of a moving bar stand, as shares of the bar.
RHYTHMS = (
    (Fraction(0), Fraction(1, 2), Fraction(3, 4)),
    (Fraction(0), Fraction(3, 8), Fraction(3, 4)),
    (Fraction(0), Fraction(1, 4), Fraction(1, 2)),
    (Fraction(0), Fraction(1, 2), Fraction(5, 8)),
)

#: Bars of one statement: a moving bar, a held tone, a moving bar, a held tone.
STATEMENT_BARS = 4


def _statement(setting: Setting, meter: int) -> list[tuple[Fraction, Fraction, int, int]]:
    """Return the motif as (start beat, beats, pitch, velocity), from its own beginning."""
    chance = setting.chance
    rise = chance.pick(RISES, "motif rise")
    answer = chance.pick(ANSWERS, "motif answer")
    rhythm = chance.pick(RHYTHMS, "motif rhythm")
    tones = []
    for phrase, places in enumerate((rise, answer)):
        begins = Fraction(2 * meter * phrase)
        shares = (*rhythm, Fraction(1))
        for k, place in enumerate(places):
            start = begins + shares[k] * meter
            ends = begins + (shares[k + 1] * meter if k < 3 else 2 * meter)
            velocity = (70, 62, 66, 74)[k] - 6 * phrase
            pitch = _in_reach(setting, setting.key.five_tones(place))
            tones.append((start, ends - start, pitch, velocity))
    return tones


def _in_reach(setting: Setting, pitch: int) -> int:
    """Return `pitch`, counted from the drone's root, where the motif's voice sings: E4 to E6."""
    return pitch + (24 if setting.key.root < 40 else 12)


def _returns(setting: Setting) -> list[tuple[int, int]]:
    """Return the beats (start, end) of every return of the refrain."""
    routine = setting.routine

    def span(row: tuple[Passage, ...]) -> tuple[int, int]:
        return routine.start_beat(row[0]), routine.end_beat(row[-1])

    return [span(row) for row in routine.refrains]


def _freed(setting: Setting, note: Note, start: int) -> Note:
    """Return the tone moved off the grid: where no beat is heard, the motif gives none either.

    Pitch, length and order stay; the same liberties are taken at every such return.
    """
    drift = Fraction(setting.chance.between(-24, 24, "free", note.start - start), 64)
    lean = Fraction(3, 16) if drift > 0 else Fraction(-3, 16)
    at = max(Fraction(start), note.start + drift + lean)
    return Note(start=at, beats=note.beats, pitch=note.pitch, velocity=note.velocity - 8)


def write_motif(setting: Setting) -> tuple[Note, ...]:
    """Return the motif at every return: whole, then its first half as an echo, and again.

    A statement that would not end within the return is left out.
    """
    meter = setting.meter
    statement = _statement(setting, meter)
    notes: list[Note] = []
    for start, end in _returns(setting):
        for count, at in enumerate(range(start, end, STATEMENT_BARS * meter)):
            for begins, beats, pitch, velocity in statement:
                is_echo = count % 2 == 1
                if at + begins + beats > end or (is_echo and begins >= 2 * meter):
                    continue
                softer = 14 if is_echo else 0
                tone = Note(start=at + begins, beats=beats, pitch=pitch, velocity=velocity - softer)
                is_free = not setting.is_heard(tone.start)
                notes.append(_freed(setting, tone, start) if is_free else tone)
    return tuple(sorted(notes, key=lambda n: (n.start, n.pitch)))
