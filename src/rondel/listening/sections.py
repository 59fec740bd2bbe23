"""Sections: where a track becomes another, how strong each part is, and whether it has a beat."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from rondel.listening.bars import Times, bar_lines, by_bar, slow_loudness
from rondel.listening.features import FRAMES, SLOW, Features, Floats
from rondel.listening.partition import best_cuts
from rondel.listening.swells import strongest_near, swell_evidence
from rondel.model.track import Section, Span

#: Fitted on the tuning seeds of benchmarks/tracks/split.json: what a difference in octaves of
#: loudness, tenths of it, attacks and harmony weighs, what a cut costs, what a rise before it pays.
OCTAVES, TENTHS, ATTACKS, HARMONY = 5.0, 2.5, 60.0, 4.0
PRICE, BONUS = 7.0, 3.0
CAP = 4.0  # times the unit of its kind: a stranger cell is no stranger
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

    `evidence` is that of swells, worked out here if not given. Energy goes by loudness and by
    how much is struck; the softest section has 0 and the strongest 1 (a lone section: 1).
    """
    lines = bar_lines(downbeats, features.seconds)
    swells = swell_evidence(features) if evidence is None else evidence
    loud = by_bar(slow_loudness(features), SLOW, lines)
    attacks = np.log1p(10 * by_bar(features.novelty.astype(np.float32), FRAMES, lines))
    tops = np.array([strongest_near(swells, at, NEAR)[0] for at in lines[:-1]])
    cuts = best_cuts(
        _cells(loud, attacks, by_bar(features.chroma, SLOW, lines)),
        _weights(lines, tops),
        price=PRICE,
        bonus=np.asarray(BONUS * np.clip(tops, 0, 2), dtype=np.float32),
        shortest=SHORTEST,
    )
    edges = [0, *cuts, len(lines) - 1]
    energies = _energies(loud, attacks, edges)
    return tuple(
        Section(span=span, energy=energy, has_beat=_beatless_share(span, beatless) < 0.5)
        for span, energy in zip(_spans(lines, edges), energies, strict=True)
    )


def _cells(loud: Floats, attacks: Floats, chroma: Floats) -> Floats:
    """Return what tells parts apart, by bar; a unit of one kind weighs as much as of another."""
    bands = loud.shape[1]
    groups = (
        (loud.reshape(len(loud), 9, bands // 9).mean(axis=2), OCTAVES),
        (loud.reshape(len(loud), 27, bands // 27).mean(axis=2), TENTHS),
        (attacks, ATTACKS),
        (_over_four_bars(chroma), HARMONY),
    )
    return np.concatenate([rows * (weight / rows.shape[1]) for rows, weight in groups], axis=1)


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


def _energies(loud: Floats, attacks: Floats, edges: list[int]) -> list[float]:
    """Medians over bars, so that a rise or a pause within a section does not count."""
    by_section = [
        float(np.median(loud[a:b].mean(axis=1) + 2 * attacks[a:b].mean(axis=1)))
        for a, b in pairwise(edges)
    ]
    least, most = min(by_section), max(by_section)
    if most - least < 1e-6:
        return [1.0] * len(by_section)
    return [(energy - least) / (most - least) for energy in by_section]


def _beatless_share(span: Span, beatless: Sequence[Span]) -> float:
    covered = sum(
        max(0.0, min(span.end, still.end) - max(span.start, still.start)) for still in beatless
    )
    return covered / span.seconds
