"""Voices led from chord to chord by the rules of four-part writing.

The rules are those that every textbook of harmony gives (Piston, Harmony, 1941; Aldwell and
Schachter, Harmony and Voice Leading, 1978; from memory): no parallel fifths or octaves, no voice
crosses another or leaps past where its neighbour stood, common tones stay, and the rest move by
step. What each is worth against the others is ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise, product

import numpy as np
from numpy.typing import NDArray

#: The range of the middle voices and of the bass, MIDI pitches.
LOWEST, HIGHEST = 48, 72
LOWEST_BASS, HIGHEST_BASS = 35, 51
VOICES = 4

#: The middle of the four voices: those of the motif and the piano's tune lie above.
MIDDLE = 60

#: What breaks a rule costs, next to a step of one semitone, which costs 10.
PARALLEL = 900
HIDDEN = 120
OVERLAP = 250
WIDE_LEAP = 300  # a middle voice by more than a fifth
BASS_LEAP = 800  # the bass by more than an octave; by a seventh or tritone
SHARP = 250  # a minor ninth between two voices
CLUSTER = 90  # a semitone between neighbours
MUDDY = 150  # neighbours closer than a minor third, low down
INVERTED = 45
BARE = 60  # without the tone that colours the chord
GRATES = (0, 260, 200)  # a voice so many semitones from a tone of the ground that is held
GAP = 60  # each semitone by which neighbours stand more than an octave apart

MUDDY_BELOW = 55  # G3

#: Moves of 0 to 36 semitones: small ones cost little more than their size, wide ones much more.
MOVE = np.array([round(10 * d**1.4) for d in range(37)], dtype=np.int64)

Pitches = NDArray[np.int64]  # (ways, 5): the bass and the four voices, rising


@dataclass(frozen=True, slots=True)
class Voiced:
    """One chord as it sounds."""

    bass: int
    voices: tuple[int, ...]


@lru_cache(maxsize=256)
def _ways(classes: tuple[int, ...]) -> tuple[Pitches, NDArray[np.int64]]:
    """Return every voicing of a chord, root first, and what each costs by itself."""
    span = range(LOWEST, HIGHEST + 1)
    tones = [[p for p in span if p % 12 == c] for c in classes]
    # A bare triad doubles its root or its fifth; so may a fuller one, where that leads better.
    doubled = ((*tones[:3], tones[0]), (*tones[:3], tones[2]))
    rows = doubled if len(classes) < VOICES else ((*tones,), *doubled)
    uppers = {tuple(sorted(v)) for t in rows for v in product(*t) if len(set(v)) == VOICES}
    low = range(LOWEST_BASS, HIGHEST_BASS + 1)
    basses = [p for p in low if p % 12 in classes[:2]]
    ways = np.array([(b, *u) for b in basses for u in sorted(uppers)], dtype=np.int64)
    cost = np.array([_alone(tuple(int(p) for p in way), classes) for way in ways], dtype=np.int64)
    return ways, cost


def _alone(way: tuple[int, ...], classes: tuple[int, ...]) -> int:
    bass, *upper = way
    cost: int = round(6 * abs(sum(upper) / VOICES - MIDDLE) ** 1.5) + 2 * abs(bass - 43)
    cost += INVERTED if bass % 12 != classes[0] else 0
    cost += BARE if len({p % 12 for p in upper}) < len(classes) else 0
    for low, high in pairwise(upper):
        cost += GAP * max(0, high - low - 12)
        cost += CLUSTER if high - low == 1 else 0
        cost += MUDDY if high - low < 3 and low < MUDDY_BELOW else 0
    cost += MUDDY if upper[0] - bass < 5 else 0
    cost += sum(SHARP for a, b in combinations(way, 2) if b - a > 12 and (b - a) % 12 == 1)
    return cost


@lru_cache(maxsize=128)
def _moves(before: tuple[int, ...], after: tuple[int, ...]) -> NDArray[np.int32]:
    """Return the cost of going from each voicing of one chord to each of the next."""
    a, b = _ways(before)[0][:, None, :], _ways(after)[0][None, :, :]
    move = b - a
    size = np.abs(move)
    cost = MOVE[size[..., 1:]].sum(axis=2) + MOVE[size[..., 0]] // 3
    cost += WIDE_LEAP * (size[..., 1:] > 7).sum(axis=2)
    bass = size[..., 0]
    cost += BASS_LEAP * ((bass > 12) | (bass == 6) | (bass == 10) | (bass == 11))
    for low, high in combinations(range(VOICES + 1), 2):
        first, then = a[..., high] - a[..., low], b[..., high] - b[..., low]
        both = (move[..., low] != 0) & (move[..., high] != 0)
        is_same = (first % 12 == then % 12) & ((then % 12 == 0) | (then % 12 == 7))
        cost += PARALLEL * (both & is_same)
    outer = (b[..., -1] - b[..., 0]) % 12
    alike = move[..., 0] * move[..., -1] > 0
    cost += HIDDEN * (alike & (size[..., -1] > 2) & ((outer == 0) | (outer == 7)))
    for low in range(1, VOICES):
        over = b[..., low] > a[..., low + 1]
        under = b[..., low + 1] < a[..., low]
        cost += OVERLAP * (over.astype(np.int64) + under)
    return np.asarray(cost, dtype=np.int32)


@lru_cache(maxsize=256)
def _costs(classes: tuple[int, ...], ground: tuple[int, ...]) -> NDArray[np.int64]:
    """Return what each voicing of a chord costs by itself over `ground`."""
    ways, cost = _ways(classes)
    for held in ground:
        apart = np.abs(ways[:, 1:] - held)
        cost = cost + sum(GRATES[d] * (apart == d).sum(axis=1) for d in (1, 2))
    return np.asarray(cost)


@dataclass(frozen=True, slots=True)
class Placed:
    """A chord, as its pitch classes with the root first, in the voicing with the number `place`."""

    classes: tuple[int, ...]
    place: int

    @property
    def voiced(self) -> Voiced:
        bass, *upper = (int(p) for p in _ways(self.classes)[0][self.place])
        return Voiced(bass, tuple(upper))


def lies_best(classes: tuple[int, ...], ground: tuple[int, ...] = ()) -> Placed:
    """Return a chord as it lies best by itself over the held tones of `ground`."""
    return Placed(classes, int(np.argmin(_costs(classes, ground))))


def lead_through(
    chords: Sequence[tuple[int, ...]],
    after: Placed | None = None,
    aim: Placed | None = None,
    ground: tuple[int, ...] = (),
) -> list[Placed]:
    """Return the voicings of a row of chords that lead best from `after` to `aim`.

    Without `after`, the first chord lies where it lies best by itself. The whole row is weighed at
    once. A chord that is said twice is held.
    """
    best = np.full(len(_ways(chords[0])[1]), 10**9, dtype=np.int64)
    if after is None:
        best[lies_best(chords[0], ground).place] = 0
    elif after.classes == chords[0]:
        best[after.place] = 0
    else:
        best = _moves(after.classes, chords[0])[after.place] + _costs(chords[0], ground)
    came: list[NDArray[np.intp]] = []
    for one, following in pairwise(chords):
        if one == following:
            came.append(np.arange(len(best)))
            continue
        total = best[:, None] + _moves(one, following)
        came.append(np.argmin(total, axis=0))
        best = total.min(axis=0) + _costs(following, ground)
    if aim is not None and aim.classes != chords[-1]:
        best = best + _moves(chords[-1], aim.classes)[:, aim.place]
    place = int(np.argmin(best))
    places = [place]
    for back in reversed(came):
        place = int(back[place])
        places.append(place)
    return [Placed(c, p) for c, p in zip(chords, reversed(places), strict=True)]
