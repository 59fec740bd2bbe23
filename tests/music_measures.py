"""What can be measured in composed notes: how voices move, what returns, what is alike.

The measures take plain pitches and beats, so that they judge our music, a plain reference and
printed chorales alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations, groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from rondel.model.routine import Routine
from rondel.music.score import LayerName, Note, Score

Voices = tuple[int, ...]  # from the bass up
Melody = tuple[tuple[Fraction, int], ...]  # (beat, pitch), in order

#: A melody's n-gram is so many intervals in a row.
GRAM = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Leading:
    """How voices move from chord to chord, over the changes of chord."""

    changes: int
    mean_move: float  # semitones a voice, the bass left out
    widest: int  # semitones, the bass left out
    parallels: float  # fifths and octaves taken in parallel, a hundred changes
    overlaps: float  # voices that leap past where their neighbour stood, a hundred changes


def leading(chords: Sequence[Voices]) -> Leading:
    """Return how the voices of `chords` move; chords of other sizes are passed over."""
    pairs = [(a, b) for a, b in pairwise(chords) if a != b and len(a) == len(b)]
    moves = [abs(x - y) for a, b in pairs for x, y in zip(a[1:], b[1:], strict=True)]
    count = max(1, len(pairs))
    return Leading(
        changes=len(pairs),
        mean_move=sum(moves) / max(1, len(moves)),
        widest=max(moves, default=0),
        parallels=100 * sum(_parallels(a, b) for a, b in pairs) / count,
        overlaps=100 * sum(_overlaps(a, b) for a, b in pairs) / count,
    )


def _parallels(before: Voices, after: Voices) -> int:
    """Return how many pairs of voices go in parallel fifths or octaves, as textbooks define them:

    both voices move the same way, and stand a fifth or an octave apart before and after.
    """
    found = 0
    for low, high in combinations(range(len(before)), 2):
        moves = after[low] - before[low], after[high] - before[high]
        first, then = before[high] - before[low], after[high] - after[low]
        same_way = moves[0] * moves[1] > 0
        found += same_way and first % 12 == then % 12 and first % 12 in (0, 7)
    return found


def _overlaps(before: Voices, after: Voices) -> int:
    neighbours = range(1, len(before) - 1)
    return sum(after[k] > before[k + 1] or after[k + 1] < before[k] for k in neighbours)


def skyline(notes: Iterable[Note]) -> Melody:
    """Return the highest tone struck at every moment."""
    ordered = sorted(notes, key=lambda n: (n.start, -n.pitch))
    return tuple(
        (at, next(iter(group)).pitch) for at, group in groupby(ordered, key=lambda n: n.start)
    )


def melody(score: Score, lowest: int = 66) -> Melody:
    """Return the melody of composed music: the motif, and the piano's tones from `lowest` up."""
    first, past = score.heard
    piano = [n for n in score.layer(LayerName.PIANO) if n.pitch >= lowest]
    upper = [*score.layer(LayerName.MOTIF), *piano]
    return skyline(n for n in upper if first <= n.start < past)


def grams(tune: Melody, length: int = GRAM) -> list[tuple[int, ...]]:
    """Return the intervals of every `length` + 1 tones in a row, in semitones."""
    steps = [b - a for (_, a), (_, b) in pairwise(tune)]
    return [tuple(steps[i : i + length]) for i in range(len(steps) - length + 1)]


def shared_grams(one: Melody, other: Melody, length: int = GRAM) -> float:
    """Return the share of the n-grams of the shorter melody that the other one has too, 0 to 1."""
    a, b = set(grams(one, length)), set(grams(other, length))
    return len(a & b) / max(1, min(len(a), len(b)))


def repeated_share(tune: Melody) -> float:
    """Return the share of tones that strike the pitch before them again."""
    pairs = [(a, b) for (_, a), (_, b) in pairwise(tune)]
    return sum(a == b for a, b in pairs) / max(1, len(pairs))


def longest_run(pitches: Sequence[int]) -> int:
    """Return how often one pitch is struck in a row at most."""
    return max((len(list(group)) for _, group in groupby(pitches)), default=0)


def same_bars(notes: Sequence[Note], meter: int) -> float:
    """Return the share of bars with tones that strike just what the bar before them struck."""
    bars: dict[int, list[tuple[Fraction, int]]] = {}
    for note in notes:
        bars.setdefault(int(note.start // meter), []).append((note.start % meter, note.pitch))
    pairs = [(bars[b - 1], bars[b]) for b in bars if b - 1 in bars]
    return sum(a == b for a, b in pairs) / max(1, len(pairs))


def alike(one: Melody, other: Melody) -> float:
    """Return how alike two tunes are, 0 to 1: tones in common in order, by interval and by rhythm.

    The longest common subsequence of (interval, beats to the next tone), over the longer tune.
    """
    a, b = _shape(one), _shape(other)
    table = np.zeros((len(a) + 1, len(b) + 1), dtype=np.int64)
    for i, x in enumerate(a):
        for j, y in enumerate(b):
            table[i + 1, j + 1] = (
                table[i, j] + 1 if x == y else max(table[i, j + 1], table[i + 1, j])
            )
    return float(table[-1, -1]) / max(1, len(a), len(b))


def _shape(tune: Melody) -> list[tuple[int, Fraction]]:
    return [(b - a, then - at) for (at, a), (then, b) in pairwise(tune)]


def alike_elsewhere(tune: Melody, rest: Melody) -> float:
    """Return how alike `tune` is to the stretch of `rest`, as long, that is most like it."""
    count = len(tune)
    windows = [rest[i : i + count] for i in range(max(1, len(rest) - count + 1))]
    return max((alike(tune, window) for window in windows if len(window) > 1), default=0.0)


def motif_at(score: Score, routine: Routine) -> list[Melody]:
    """Return the motif of every return that lies within the heard beats."""
    found = []
    for row in routine.refrains:
        start, end = routine.start_beat(row[0]), routine.end_beat(row[-1])
        notes = [n for n in score.layer(LayerName.MOTIF) if start <= n.start < end]
        if score.heard[0] <= start and end <= score.heard[1]:
            found.append(tuple((n.start, n.pitch) for n in notes))
    return found


#: What beats, and what is struck and gone, does not rub.
BEATING = (LayerName.PULSE, LayerName.DRUM)

#: Two tones a second apart growl where both lie below this: F3.
LOW = 53


def rubbing(score: Score) -> tuple[float, float]:
    """Return for how many seconds a minute two held tones rub: (low seconds, semitones anywhere).

    Low: a semitone or whole tone apart, both below F3. Anywhere: a semitone, or a minor ninth of
    one octave or two. Only what sounds together for a second and more counts.
    """
    notes = sorted(
        (score.start_seconds(n), score.end_seconds(n), n.pitch)
        for layer in score.layers
        if layer.name not in BEATING
        for n in layer.notes
    )
    low = wide = 0.0
    sounding: list[tuple[float, float, int]] = []
    for start, end, pitch in notes:
        sounding = [n for n in sounding if n[1] > start]
        for _, until, other in sounding:
            together = min(end, until) - start
            apart = abs(pitch - other)
            if together >= 1.0:
                low += together if apart in (1, 2) and max(pitch, other) < LOW else 0.0
                wide += together if apart in (1, 13, 25) else 0.0
        sounding.append((start, end, pitch))
    minutes = score.clock.total_seconds / 60
    return low / minutes, wide / minutes


def band_shares(sound: NDArray[np.float32], rate: int) -> NDArray[np.float64]:
    """Return the shares of power in six octave-wide bands from 60 Hz to 4 kHz, summing to 1."""
    power = np.zeros(2049)
    window = np.hanning(4096)
    mono = sound.mean(axis=1)
    for at in range(0, len(mono) - 4096, 16384):
        power += np.abs(np.fft.rfft(mono[at : at + 4096] * window)) ** 2
    hertz = np.fft.rfftfreq(4096, 1 / rate)
    edges = 62.5 * 2.0 ** np.arange(7)
    shares = [power[(hertz >= a) & (hertz < b)].sum() for a, b in pairwise(edges)]
    return np.asarray(np.array(shares) / max(1e-12, sum(shares)))


def crest_db(sound: NDArray[np.float32]) -> float:
    """Return how far the peak stands above the RMS, in decibels."""
    return float(20 * np.log10(np.abs(sound).max() / np.sqrt((sound**2).mean())))


def width(sound: NDArray[np.float32]) -> float:
    """Return the side's share of all power, 0 (mono) to 1 (channels in opposition)."""
    left, right = sound[:, 0].astype(np.float64), sound[:, 1].astype(np.float64)
    side, middle = ((left - right) ** 2).mean(), ((left + right) ** 2).mean()
    return float(side / max(1e-12, side + middle))


def mono_loss_db(sound: NDArray[np.float32]) -> float:
    """Return how much is lost where both channels are played by one loudspeaker, in decibels."""
    stereo = (sound.astype(np.float64) ** 2).mean()
    mono = (sound.astype(np.float64).mean(axis=1) ** 2).mean()
    return float(10 * np.log10(stereo / max(1e-12, mono)))
