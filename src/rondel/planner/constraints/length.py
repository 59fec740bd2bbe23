"""The asked time in whole bars: tempo, number of bars, and how long passages may be."""

from __future__ import annotations

from fractions import Fraction

from rondel.model.brief import Brief
from rondel.rules.length import MAX_NUDGE, NOMINAL_BPM

BEATS_PER_BAR = 4


def nominal_bpm(brief: Brief) -> Fraction:
    """Return the tempo asked for, or the usual one of the intention."""
    return brief.bpm if brief.bpm is not None else Fraction(NOMINAL_BPM[brief.intention])


def bars_and_bpm(brief: Brief) -> tuple[int, Fraction]:
    """Return the whole bars of the routine and its exact tempo.

    A free tempo is nudged so that the bars fill the minutes: half a bar in at least forty is
    under the 1.5 % that the rule allows. It is written to a millionth of a beat, so that a
    routine read back from its file is the very same; that is at most 0.2 ms in two hours.
    A fixed tempo leaves at most half a bar. A track that is laid out has its own.
    """
    if brief.laid is not None:
        return brief.laid.bars, brief.laid.bpm
    bpm = nominal_bpm(brief)
    bars = int(brief.minutes * bpm / BEATS_PER_BAR + Fraction(1, 2))
    if brief.bpm is not None:
        return bars, bpm
    exact = Fraction(BEATS_PER_BAR * bars) / brief.minutes
    if abs(exact / bpm - 1) > MAX_NUDGE:
        raise AssertionError("a free tempo is never nudged by more than the rule allows")
    return bars, round(exact, 6)
