"""What a teacher asks of what she is shown, as corrections of what was first heard.

"Half as fast" and "the section at 1:13" are of what is shown now, corrections in it. What is kept
is of what was first heard, so that it can be taken back, and means the same for ever.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from rondel.listening.corrections import no_section_says
from rondel.model.corrections import (
    FASTEST_BPM,
    LEAST_TAPS,
    SLOWEST_BPM,
    Corrections,
    Moved,
)
from rondel.model.errors import BadInput
from rondel.model.track import Heard

#: Tempi nearer than this share are the same, however they were rounded.
SAME_TEMPO = 0.0005
#: A section that is named by a second further from its start than this is another, or none.
SAME_START_SECONDS = 2.0


def meant(
    more: Corrections, times: float | None, before: Corrections, shown: Heard, first: Heard
) -> Corrections:
    """Return the corrections `before` with what is asked now of what is `shown` with them.

    `times`: so many times as fast as it is shown. Raises BadInput where the tempo would be one
    that nobody counts, and where no section begins at a place that is to be moved.
    """
    if times is not None:
        before = _times_as_fast(before, times, shown, first)
    moved = moves_meant(more.moved, before.moved, [s.span.start for s in shown.sections[1:]])
    return replace(before.then(replace(more, moved=())), moved=moved)


def _times_as_fast(before: Corrections, times: float, shown: Heard, first: Heard) -> Corrections:
    taps = _taps_times(before.taps, times)
    if len(taps) >= LEAST_TAPS:
        return replace(before, taps=taps)
    if len(shown.beats) < 2:
        says = "no beat is heard that could be counted otherwise; tap along first, with --taps"
        raise BadInput(says, at="the tempo")
    bpm = round(shown.bpm * times, 4)
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        raise BadInput(
            f"it is counted at {shown.bpm:.4g} beats a minute, and {bpm:.4g} is not from "
            f"{SLOWEST_BPM} to {FASTEST_BPM}",
            at="the tempo",
        )
    if len(first.beats) > 1 and abs(bpm / first.bpm - 1) <= SAME_TEMPO:
        return before.forgetting("tempo")  # as it was first heard
    return before.then(Corrections(bpm=bpm))


def _taps_times(taps: Sequence[float], times: float) -> tuple[float, ...]:
    """Return every second tap, or one more between each two; () for any other `times`."""
    if times == 0.5:
        return tuple(taps[::2])
    if times == 2.0:
        between = [round((a + b) / 2, 4) for a, b in pairwise(taps)]
        return tuple(sorted({*taps, *between}))
    return ()


def moves_meant(
    more: Sequence[Moved], before: Sequence[Moved], starts: Sequence[float]
) -> tuple[Moved, ...]:
    """Return the moves `before` with `more` ones; sections begin at `starts` now, the first apart.

    A section that was moved before may be named by where it was first heard or by where it begins
    now; it then moves from where it was first heard, once. BadInput where none begins.
    """
    found = list(before)
    for move in more:
        near = [(min(abs(m.of - move.of), abs(m.to - move.of)), k) for k, m in enumerate(found)]
        off, place = min(near, default=(SAME_START_SECONDS + 1, -1))
        if off <= SAME_START_SECONDS:
            found[place] = replace(found[place], to=move.to)
            continue
        nearest = min(starts, key=lambda start: abs(start - move.of), default=None)
        if nearest is None or abs(nearest - move.of) > SAME_START_SECONDS:
            raise BadInput(no_section_says(move.of, starts), at="the moved section")
        found.append(move)
    return tuple(found)
