"""How strong each section of a track is beside its others: what is heard in it, weighed.

By loudness alone a drone that swells is stronger than a soft rhythm, which a musician would call
the height of the track. So loudness by wide bands, attacks, level, and whether there is a beat are
weighed by a small network, bar by bar. No weight of it is negative: a column that grows never makes
a bar weaker. (A sound that is added can, where it masks attacks: hiss, rain, the sea.)
`training/energies.py` found the weights.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rondel.listening.cells import Times, bar_lines, by_bar, slow_loudness
from rondel.listening.energy_weights import BIAS, INNER, OUTER
from rondel.listening.features import FRAMES, SLOW, Features, Floats
from rondel.model.track import Span

Rows = NDArray[np.float64]

WIDE_BANDS = 9
#: Level is told no further down than this share of the loudest bar.
LEAST_LEVEL = 1e-3


@dataclass(frozen=True, slots=True)
class BarSound:
    """What sounds between `lines` (seconds, rising), by bar.

    `loud`: (bars, bands) loudness; `attacks`: (bars, 4) log1p of ten times the growth of loudness;
    `level`: (bars,) natural logarithm of the root mean square.
    """

    lines: Times
    loud: Floats
    attacks: Floats
    level: Floats

    @property
    def wide(self) -> Floats:
        """(bars, WIDE_BANDS) loudness by wide band."""
        return np.asarray(self.loud.reshape(len(self.loud), WIDE_BANDS, -1).mean(axis=2))


def bar_sound(features: Features, downbeats: Sequence[float]) -> BarSound:
    """Return what sounds from bar line to bar line, the whole track through."""
    lines = bar_lines(downbeats, features.seconds)
    rms = by_bar(features.rms[:, None], SLOW, lines)[:, 0]
    return BarSound(
        lines=lines,
        loud=by_bar(slow_loudness(features), SLOW, lines),
        attacks=np.log1p(10 * by_bar(features.novelty.astype(np.float32), FRAMES, lines)),
        level=np.log(np.maximum(rms, max(float(rms.max()) * LEAST_LEVEL, 1e-9))),
    )


def energies_of(sound: BarSound, edges: Sequence[int], beatless: Sequence[Span]) -> list[float]:
    """Return the energy of each section, 0 (the softest) to 1 (the strongest; a lone one: 1).

    `edges`: the bar lines from which and to which sections go, the first and the last included.
    Medians over bars, so that a rise or a pause within a section does not count.
    """
    strength = strength_of(bar_columns(sound, beatless), INNER, BIAS, OUTER)
    told = [float(np.median(strength[a:b])) for a, b in pairwise(edges)]
    least, most = min(told), max(told)
    if most - least < 1e-6:
        return [1.0] * len(told)
    return [(one - least) / (most - least) for one in told]


def strength_of(columns: Rows, inner: ArrayLike, bias: ArrayLike, outer: ArrayLike) -> Rows:
    """Return how strong each bar is, (bars,), on a scale of its track alone."""
    return np.asarray(np.tanh(columns @ np.asarray(inner) + np.asarray(bias)) @ np.asarray(outer))


def bar_columns(sound: BarSound, beatless: Sequence[Span]) -> Rows:
    """Return what is weighed, (bars, 15): loudness by wide band from low to high, attacks from low
    to high, level, and whether there is a beat; each less its mean in the track, and the median of
    three bars."""
    middles = (sound.lines[:-1] + sound.lines[1:]) / 2
    has_beat = [not any(span.holds(at) for span in beatless) for at in middles]
    bars = np.column_stack([sound.wide, sound.attacks, sound.level, has_beat]).astype(np.float64)
    bars -= np.average(bars, axis=0, weights=np.diff(sound.lines))
    beside = np.pad(bars, ((1, 1), (0, 0)), mode="edge")
    return np.asarray(np.median([beside[:-2], bars, beside[2:]], axis=0))
