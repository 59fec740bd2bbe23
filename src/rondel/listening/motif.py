"""Returns of a motif: the rest of them from one that is marked; and what may be one, unasked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rondel.listening.cells import Times
from rondel.listening.features import Features, Floats
from rondel.listening.melody import A_BEAT, half_beats, melody
from rondel.model.track import Span

Likeness = NDArray[np.float64]

OCTAVES = (0, 12, -12)  # semitones by which a return may lie higher or lower
ALIKE = 0.42  # likeness that makes a return; from the tuning seeds of benchmarks/tracks/split.json
APART = 0.75  # of a motif's length, between the beginnings of two returns at least
BARELY = 0.02  # of the marked motif's weight: so much silence resembles nothing

BARS_OF_A_MOTIF = 2
MOST_TRIED = 120  # places at which a motif may begin, spread over the track
TIMES = 3  # a motif is heard so often at least


def find_returns(
    features: Features, beats: Sequence[float], marked: Span, beats_per_bar: int = 4
) -> tuple[Span, ...]:
    """Return every span in which the marked motif is heard, the marked one among them, rising.

    Each lasts as many half beats as the marked span, whatever the tempo does. A return may lie
    an octave higher or lower, and other layers may join it.
    """
    edges = half_beats(beats, features.seconds)
    cells = melody(features, edges, beats_per_bar)
    first = int(np.abs(edges[:-1] - marked.start).argmin())
    length = max(2, int(np.abs(edges - marked.end).argmin()) - first)
    likeness = _likeness(cells, first, length)
    found = [
        Span(start=float(edges[at]), end=float(edges[at + length]))
        for at in _picked(likeness, length, taken=first)
    ]
    return tuple(sorted((marked, *found), key=lambda span: span.start))


def motif_candidates(
    features: Features,
    beats: Sequence[float],
    downbeats: Sequence[float],
    beats_per_bar: int = 4,
    count: int = 3,
) -> tuple[Span, ...]:
    """Return up to `count` two-bar spans that may be the motif, the likeliest first.

    A guess to be offered, never to be trusted: whatever melody comes back most often and most
    clearly. Spans that are returns of a likelier one are left out.
    """
    edges = half_beats(beats, features.seconds)
    cells = melody(features, edges, beats_per_bar)
    length = BARS_OF_A_MOTIF * beats_per_bar * A_BEAT
    ranked = []
    for first in _places(edges, downbeats, length):
        likeness = _likeness(cells, first, length)
        others = _picked(likeness, length, taken=first)
        if len(others) + 1 >= TIMES:
            sung = float(np.sqrt((cells[first : first + length] ** 2).sum()))
            ranked.append((sung * float(likeness[others].sum()), first, others))
    ranked.sort(reverse=True)
    return _distinct(ranked, edges, length, count)


def _likeness(cells: Floats, first: int, length: int) -> Likeness:
    """Return, for a motif that begins in each cell, how like the one at `first` it is, 0 to 1."""
    count = len(cells)
    motif = cells[first : first + length].astype(np.float64)
    weight = float((motif**2).sum())
    best = np.zeros(count)
    if first + length > count or weight == 0:
        return best
    whole = count - length + 1
    energy = np.concatenate([[0.0], np.cumsum((cells.astype(np.float64) ** 2).sum(axis=1))])
    energies = energy[length:] - energy[:whole]
    for octave in OCTAVES:
        moved = _moved(motif, octave)
        own = float((moved**2).sum())
        shared = sum(cells[row : row + whole] @ moved[row] for row in range(length))
        scale = np.sqrt(np.maximum(own * (energies + BARELY * weight), 1e-12))
        best[:whole] = np.maximum(best[:whole], np.asarray(shared) / scale)
    return best


def _moved(motif: Likeness, semitones: int) -> Likeness:
    moved = np.zeros_like(motif)
    if semitones >= 0:
        moved[:, semitones:] = motif[:, : motif.shape[1] - semitones]
    else:
        moved[:, :semitones] = motif[:, -semitones:]
    return moved


def _picked(likeness: Likeness, length: int, *, taken: int) -> list[int]:
    """Return the likest cells first, none too near to another or to the one `taken`."""
    kept = [taken]
    for at in np.argsort(-likeness, kind="stable").tolist():
        if likeness[at] < ALIKE:
            break
        if all(abs(at - other) >= APART * length for other in kept):
            kept.append(at)
    return kept[1:]


def _places(edges: Times, downbeats: Sequence[float], length: int) -> list[int]:
    starts = {int(np.abs(edges[:-1] - at).argmin()) for at in downbeats}
    inside = sorted(at for at in starts if at + length < len(edges))
    step = max(1, -(-len(inside) // MOST_TRIED))
    return inside[::step]


def _distinct(
    ranked: list[tuple[float, int, list[int]]], edges: Times, length: int, count: int
) -> tuple[Span, ...]:
    chosen: list[int] = []
    covered: list[int] = []
    for _, first, others in ranked:
        if len(chosen) < count and all(abs(first - at) >= length // 2 for at in covered):
            chosen.append(first)
            covered += [first, *others]
    return tuple(Span(start=float(edges[a]), end=float(edges[a + length])) for a in chosen)
