"""Beats from taps: the hand says which beats are meant, the sound says where they are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from rondel.listening.corrections import recounted
from rondel.listening.grid import Grid, bars_on, near_ratio
from rondel.model.codec.moments import moment_says
from rondel.model.errors import BadInput
from rondel.model.track import Heard

Seconds = NDArray[np.float64]

#: Seconds from one tap to the next that can be a beat: 20 to 300 a minute.
FASTEST, SLOWEST = 0.2, 3.0
#: From 0, taps all over the place, to 1, all at the same point of a beat.
STEADY = 0.75
#: Taps within this share of a beat mean the beat that was heard: hands come a little early.
SAME_BEAT = 0.25
#: Taps each side that smooth one tap, and that tell the tempo beyond the first and the last.
AROUND, BEYOND = 4, 8

UNSTEADY = "the taps keep no steady beat; tap along again, a little longer"


def with_taps(
    heard: Heard, taps: tuple[float, ...], hear_again: Callable[[], Heard] | None = None
) -> Heard:
    """Return `heard` with the beats that were tapped.

    Where the taps go with the beats that were heard, as many of them or a simple share, those
    beats are kept and only counted otherwise: they are more exact than a hand. Else `hear_again`
    listens for beats at the taps. Where it hears none that go with them, the taps themselves are
    the beats, smoothed, and go on evenly to both ends of the track.
    Raises BadInput where the taps are no steady beat or lie outside the track.
    """
    if not taps:
        return heard
    seconds = np.array(taps)
    if seconds[0] < 0 or seconds[-1] > heard.seconds:
        end = moment_says(round(heard.seconds, 1))
        says = f"there are taps before the start or after the end of the track, which is at {end}"
        raise BadInput(says, at="taps")
    usual = float(np.median(np.diff(seconds)))
    if not FASTEST <= usual <= SLOWEST:
        says = f"the taps are {usual:.3g} seconds apart; a beat is from {FASTEST} to {SLOWEST}"
        raise BadInput(says, at="taps")
    steps = np.concatenate([[0.0], np.cumsum(np.maximum(1, np.rint(np.diff(seconds) / usual)))])
    kept = _as_heard(heard, seconds, steps)
    if kept is None and hear_again is not None:
        again = replace(
            hear_again(), beatless=heard.beatless, unsure=heard.unsure, sections=heard.sections
        )
        kept = _as_heard(again, seconds, steps)
    return kept or _as_tapped(heard, seconds, steps)


def _as_heard(heard: Heard, taps: Seconds, steps: Seconds) -> Heard | None:
    """Return the heard beats, counted as they were tapped, or None where the two do not agree."""
    if len(heard.beats) < 2:
        return None
    counts = Grid(np.array(heard.beats)).count_at(taps)
    beats_a_tap = float(np.polyfit(steps, counts, 1)[0])
    ratio = near_ratio(1 / beats_a_tap) if beats_a_tap > 0 else None
    if ratio is None:
        return None
    around = np.exp(2j * np.pi * counts * ratio).mean()
    if abs(around) < STEADY:
        return None
    phase = float(np.angle(around)) / (2 * np.pi)
    if ratio < 1:
        return recounted(heard, ratio, round(phase / ratio))
    if abs(phase) <= SAME_BEAT:
        return heard if ratio == 1 else recounted(heard, ratio, 0)
    return recounted(heard, ratio, phase / ratio)


def _as_tapped(heard: Heard, taps: Seconds, steps: Seconds) -> Heard:
    usual = float(np.median(np.diff(taps)))
    off = np.abs(np.diff(taps) / np.diff(steps) / usual - 1)
    if float(np.median(off)) > SAME_BEAT or float((off > 0.5).mean()) > 0.2:
        raise BadInput(UNSTEADY, at="taps")
    inside = np.interp(np.arange(int(steps[-1]) + 1), steps, _smoothed(steps, taps))
    if np.diff(inside).min() < usual / 3:
        raise BadInput(UNSTEADY, at="taps")
    beats = _to_both_ends(inside, heard.seconds)
    in_bars = bars_on(beats, [int(np.searchsorted(beats, inside[0] - 1e-6))], heard.beats_per_bar)
    bpm = 60 * (len(inside) - 1) / float(inside[-1] - inside[0])
    return replace(
        heard, bpm=bpm, is_constant=False, beats=tuple(beats), downbeats=in_bars, others=()
    )


def _smoothed(steps: Seconds, taps: Seconds) -> Seconds:
    """Return each tap put on the straight line through itself and its neighbours."""
    smooth = np.empty_like(taps)
    for place in range(len(taps)):
        near = slice(max(0, place - AROUND), place + AROUND + 1)
        _, offset = np.polyfit(steps[near] - steps[place], taps[near], 1)
        smooth[place] = offset
    return smooth


def _to_both_ends(inside: Seconds, end: float) -> list[float]:
    first = float(np.diff(inside[: BEYOND + 1]).mean())
    last = float(np.diff(inside[-BEYOND - 1 :]).mean())
    before = inside[0] - first * np.arange(int(inside[0] / first), 0, -1)
    after = inside[-1] + last * np.arange(1, int((end - inside[-1]) / last) + 1)
    return [float(second) for second in np.concatenate([before, inside, after])]
