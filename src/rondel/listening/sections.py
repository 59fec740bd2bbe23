"""Sections: where a track becomes another, how strong each part is, and whether it has a beat."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from rondel.listening.cells import Times, by_bar
from rondel.listening.energies import BarSound, bar_sound, energies_of
from rondel.listening.features import SLOW, Features, Floats
from rondel.listening.partition import best_cuts
from rondel.listening.swells import strongest_near, swell_evidence
from rondel.model.stretches import shared_seconds
from rondel.model.track import Section, Span

#: What tells parts apart: a difference that counts as one unit, and what a unit weighs. Loudness
#: by nine wide bands and by 27 narrow ones, attacks, harmony over four bars. Weights, the price of
#: a cut and what a rise pays of it were fitted on the tuning seeds of benchmarks/tracks/split.json.
UNITS = (0.2, 0.2, 0.05, 0.05)
WEIGHTS = (1.0, 0.5, 3.0, 0.2)
PRICE, BONUS, MOST_EVIDENCE = 8.0, 5.0, 4.0
CAP = 4.0  # units: a bar that differs by more is no stranger
SHORTEST = 4  # bars
NEAR = 0.8  # seconds between a bar line and the top of a rise that belongs to it
RISING, UNDER_A_RISE = 7.0, 0.3  # seconds before a rise's top, and how little their bars count


def hear_sections(
    features: Features,
    downbeats: Sequence[float],
    beatless: Sequence[Span] = (),
    evidence: Floats | None = None,
) -> tuple[Section, ...]:
    """Return the sections of a track from 0 to its end, without gaps, cut at bar lines.

    `evidence` is that of swells, worked out here if not given. Energies: `energies.py`.
    """
    sound = bar_sound(features, downbeats)
    lines = sound.lines
    swells = swell_evidence(features) if evidence is None else evidence
    tops = np.array([strongest_near(swells, at, NEAR)[0] for at in lines[:-1]])
    cells, kinds = _cells(sound, by_bar(features.chroma, SLOW, lines))
    cuts = best_cuts(
        cells,
        _weights(lines, tops),
        kinds=kinds,
        cap=CAP,
        price=PRICE,
        bonus=np.asarray(BONUS * np.clip(tops, 0, MOST_EVIDENCE), dtype=np.float32),
        shortest=SHORTEST,
    )
    edges = [0, *cuts, len(lines) - 1]
    energies = energies_of(sound, edges, beatless)
    return tuple(
        Section(
            span=span, energy=energy, has_beat=shared_seconds(span, beatless) < span.seconds / 2
        )
        for span, energy in zip(_spans(lines, edges), energies, strict=True)
    )


def _cells(sound: BarSound, chroma: Floats) -> tuple[Floats, Floats]:
    """Return what tells parts apart by bar, in units of its kind, and the weight of each column."""
    groups = (
        sound.wide,
        sound.loud.reshape(len(sound.loud), 27, -1).mean(axis=2),
        sound.attacks,
        _over_four_bars(chroma),
    )
    cells = [rows / unit for rows, unit in zip(groups, UNITS, strict=True)]
    kinds = [
        np.full(rows.shape[1], weight / rows.shape[1])
        for rows, weight in zip(groups, WEIGHTS, strict=True)
    ]
    return np.concatenate(cells, axis=1), np.concatenate(kinds).astype(np.float32)


def _over_four_bars(rows: Floats) -> Floats:
    padded = np.pad(rows, ((2, 1), (0, 0)), mode="edge")
    return np.asarray(np.mean([padded[k : k + len(rows)] for k in range(4)], axis=0))


def _weights(lines: Times, tops: Floats) -> Floats:
    """Bars in which a rise grows belong to what they lead out of, whatever they sound like."""
    weights = np.ones(len(lines) - 1, dtype=np.float32)
    for line in np.flatnonzero(tops > 0.5):
        under = (lines[:-1] < lines[line] - 0.1) & (lines[1:] > lines[line] - RISING)
        weights[under] = UNDER_A_RISE
    return weights


def _spans(lines: Times, edges: list[int]) -> list[Span]:
    return [Span(start=float(lines[a]), end=float(lines[b])) for a, b in pairwise(edges)]
