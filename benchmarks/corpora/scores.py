"""Public scores of music21's corpus (PyPI, BSD) as tunes; only works in the public domain."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

import numpy as np

from corpora.tunes import Tune

LEAST_BEATS = 12


class NoTune(Exception):
    """A score whose bars cannot be counted evenly, or that is too short."""


def tune_of(score: Any, name: str, first: int = 0, sounding: list[list[Any]] | None = None) -> Tune:
    """Return the stretch of `score` from its bar `first` (counted from 0) in one time signature.

    Beats are those of the metre; a bar that names a time signature must be the first. `sounding`
    is `sounding_of(score)`, for who asks for several stretches of one score.

    A beat is the metre's own: a dotted quarter in 6/8 and 9/8, a half in 2/2. Repeats are played
    once; the tune ends before a bar of another length. Raises NoTune where too little is left.
    A note counts from the bar it stands in: where one part's bar is written too long, its next bar
    begins with everyone's all the same, as anyone who plays from it would have it.
    """
    parts = list(score.parts) or [score]
    bars = list(parts[0].getElementsByClass("Measure"))
    if not bars:
        raise NoTune("no bars")
    lines = [Fraction(bar.offset).limit_denominator(64) for bar in bars]
    bars = bars[first:]
    metre, until = _first_metre(bars)
    beat = Fraction(metre.beatDuration.quarterLength).limit_denominator(64)
    full = Fraction(metre.barDuration.quarterLength).limit_denominator(64)
    starts = [Fraction(bar.offset).limit_denominator(64) for bar in bars if bar.offset < until]
    pickup = starts[1] if len(starts) > 1 and starts[1] - starts[0] < full else Fraction(0)
    zero = pickup if pickup else starts[0]
    until = min(until, _even_until([*starts, starts[-1] + full], zero, full))
    rows = []
    for number, notes_of_part in enumerate(sounding or sounding_of(score)):
        moved = _moved(parts[number], lines)
        for note in notes_of_part:
            place = Fraction(note.offset).limit_denominator(64)
            place += next((by for start, by in moved if start <= place), Fraction(0))
            if not starts[0] <= place < until or note.duration.isGrace:
                continue
            at = float((place - zero) / beat)
            length = float(Fraction(note.quarterLength).limit_denominator(64) / beat)
            for pitch in getattr(note, "pitches", ()):
                rows.append((at, length, float(pitch.midi), float(number), 72.0))
    if not rows:
        raise NoTune("no notes")
    notes = np.array(sorted(rows))
    if notes[-1, 0] < LEAST_BEATS:
        raise NoTune("too short")
    return Tune(
        name=name,
        notes=notes,
        beats_per_bar=int(full / beat),
        first_bar=0,
        metre=metre.ratioString,
    )


def sounding_of(score: Any) -> list[list[Any]]:
    """Return the notes and chords of every part, tied ones joined."""
    return [list(part.flatten().stripTies().notes) for part in list(score.parts) or [score]]


def stretches(score: Any) -> list[int]:
    """Return the bars, counted from 0, at which a time signature begins to hold."""
    bars = list((list(score.parts) or [score])[0].getElementsByClass("Measure"))
    return [k for k, bar in enumerate(bars) if bar.getElementsByClass("TimeSignature")]


def _moved(part: Any, lines: list[Fraction]) -> list[tuple[Fraction, Fraction]]:
    """Return (start of a bar of `part`, how far it is to move to the first part's), last first.

    Nothing where the parts do not have the same bars.
    """
    own = [Fraction(b.offset).limit_denominator(64) for b in part.getElementsByClass("Measure")]
    if len(own) != len(lines) or own == lines:
        return []
    return [(start, line - start) for start, line in zip(own, lines, strict=True)][::-1]


def _even_until(starts: list[Fraction], zero: Fraction, full: Fraction) -> float:
    """Return where the bar lines leave their grid; a bar split by a repeat does not count."""
    even = [(start - zero) % full == 0 or start < zero for start in starts]
    for index in range(1, len(starts) - 1):
        if not even[index] and not even[index + 1]:
            return float(starts[index - 1])
    return float(starts[-1]) + 1e-6


def _first_metre(bars: list[Any]) -> tuple[Any, float]:
    signatures = [(bar.offset, s) for bar in bars for s in bar.getElementsByClass("TimeSignature")]
    if not signatures:
        raise NoTune("no time signature")
    first = signatures[0][1]
    change = [at for at, s in signatures if s.ratioString != first.ratioString]
    until = change[0] if change else bars[-1].offset + bars[-1].duration.quarterLength + 1e-6
    if first.ratioString not in KNOWN_METRES:
        raise NoTune(f"{first.ratioString} is not used")
    return first, float(until)


KNOWN_METRES = frozenset(
    ["2/4", "3/4", "4/4", "2/2", "3/2", "4/2", "6/8", "9/8", "12/8", "6/4"]
)  # 3/8 is left out: whether its eighths or its bars are the beat depends on the tempo


def metres(tunes: list[Tune]) -> dict[str, int]:
    """Count the metres of `tunes`."""
    return dict(Counter(tune.metre for tune in tunes))
