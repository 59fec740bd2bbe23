"""The motif as an idea: a rhythm and a contour, invented from the seed within the rules of melody.

Two halves: the first asks and stays open, the second begins like it and comes home. The rules are
those of textbooks of melody and counterpoint (Jeppesen, Counterpoint, 1931; from memory): mostly
steps, few leaps, each answered by a step back; one highest tone; no tritone; no tone struck twice
in a row; tones that bear weight belong to the chord.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from rondel.music.chance import Chance
from rondel.music.modes import Key

#: Where the tones of a half begin, in half beats from its first bar, by beats a bar; the last one
#: is held into the second bar.
RHYTHMS = {
    4: (
        (0, 4, 6, 8),
        (0, 3, 4, 8),
        (0, 2, 4, 8),
        (0, 6, 7, 8),
        (0, 2, 6, 8),
        (0, 4, 6, 7, 8),
        (0, 3, 6, 8),
        (0, 2, 3, 4, 8),
        (0, 3, 4, 6, 8),
        (0, 2, 4, 6, 8),
        (0, 4, 5, 6, 8),
        (0, 1, 2, 4, 8),
    ),
    3: ((0, 4, 6), (0, 2, 4, 6), (0, 3, 4, 6), (0, 4, 5, 6), (0, 2, 6), (0, 2, 3, 4, 6)),
    2: ((0, 2, 4), (0, 2, 3, 4), (0, 3, 4), (0, 1, 2, 4)),
}

#: Scale steps above the root in which the motif moves.
LOWEST, HIGHEST = 0, 9
WIDEST_STEP = 4  # a fifth
LEAP = 3  # a fourth and more
FEWEST, MOST = 3, 7  # scale steps from the lowest to the highest tone of the first half
SPAN = 2  # bars of a half


@dataclass(frozen=True, slots=True)
class TuneTone:
    """A tone of the motif: beats from its beginning, beats long, scale step above the root."""

    start: Fraction
    beats: Fraction
    step: int
    half: int


def _rhythms(meter: int) -> tuple[tuple[int, ...], ...]:
    usual = RHYTHMS.get(meter)
    if usual is not None:
        return usual
    return ((0, 2 * (meter - 2), 2 * (meter - 1), 2 * meter), (0, 2, 4, 2 * meter))


def _may_follow(steps: Sequence[int], step: int) -> bool:
    """Return whether the rules of melody let `step` follow `steps`."""
    move = step - steps[-1]
    if move == 0 or abs(move) > WIDEST_STEP:
        return False
    if len(steps) < 2:
        return True
    last = steps[-1] - steps[-2]
    if abs(last) >= LEAP and (abs(move) > 2 or move * last > 0):
        return False  # a leap is answered by a step back
    has_leapt = any(abs(b - a) >= LEAP for a, b in pairwise(steps))
    return not (has_leapt and abs(move) >= LEAP)


def _lines(start: list[int], count: int, fits: Callable[[int, int], bool]) -> Iterator[list[int]]:
    """Yield every lawful line of `count` steps that begins with `start`."""
    if len(start) == count:
        yield start
        return
    for step in range(LOWEST, HIGHEST + 1):
        if fits(len(start), step) and (not start or _may_follow(start, step)):
            yield from _lines([*start, step], count, fits)


def _turns(steps: Sequence[int]) -> int:
    """Return how often the line changes its direction."""
    moves = [b - a for a, b in pairwise(steps)]
    return sum(a * b < 0 for a, b in pairwise(moves))


def _is_stepwise(*halves: Sequence[int]) -> bool:
    """Return whether about half of the moves in each half, and a third of all, are steps."""
    rows = [[abs(b - a) for a, b in pairwise(steps)] for steps in halves]
    has_enough = 3 * sum(row.count(1) for row in rows) > sum(len(row) for row in rows)
    return has_enough and all(2 * row.count(1) >= len(row) - 1 for row in rows)


@dataclass(frozen=True, slots=True)
class _Ground:
    """The chords under the four bars, and the key they are in."""

    key: Key
    chords: tuple[tuple[int, ...], ...]
    meter: int

    def is_chordal(self, step: int, at: int, half: int) -> bool:
        """Return whether the tone at `at` half beats belongs to its chord or bears no weight."""
        bar = min(len(self.chords) - 1, half * SPAN + at // (2 * self.meter))
        if at % (2 * self.meter):
            return True
        return self.key.pitch(step) % 12 in self.chords[bar][:3]

    def has_tritone(self, steps: Sequence[int]) -> bool:
        pitches = [self.key.pitch(s) for s in steps]
        return any(abs(a - b) == 6 for a, b in pairwise(pitches))


def _first_halves(ground: _Ground, rhythm: tuple[int, ...]) -> list[list[int]]:
    def fits(place: int, step: int) -> bool:
        if place == len(rhythm) - 1 and step % 7 == 0:
            return False  # it stays open: not on the key's own tone
        return ground.is_chordal(step, rhythm[place], 0)

    return [
        line
        for line in _lines([], len(rhythm), fits)
        if FEWEST <= max(line) - min(line) <= MOST
        and line.count(max(line)) == 1
        and 2 * sum(abs(b - a) == 1 for a, b in pairwise(line)) >= len(line) - 2
        and not ground.has_tritone(line)
        and (_turns(line) >= 1 or any(abs(b - a) >= LEAP for a, b in pairwise(line)))
    ]


def _second_halves(ground: _Ground, rhythm: tuple[int, ...], first: list[int]) -> list[list[int]]:
    """Return the answers to `first`: they begin with its first interval and end at home."""
    last = len(rhythm) - 1
    top = max(first)

    def fits(place: int, step: int) -> bool:
        if place == last and step % 7 not in (0, 2):
            return False
        return ground.is_chordal(step, rhythm[place], 1)

    found = []
    for shift in (-2, -1, 0, 1):
        head = [first[0] + shift, first[1] + shift]
        if not all(LOWEST - 2 <= s <= HIGHEST for s in head) or not fits(0, head[0]):
            continue
        for line in _lines(head, len(rhythm), fits):
            comes_home = abs(line[-1] - line[-2]) <= 2 and _is_stepwise(first, line)
            if comes_home and max(line) < top and not ground.has_tritone([first[-1], *line]):
                found.append(line)
    return [line for line in found if line != first]


def invent(
    key: Key, chords: tuple[tuple[int, ...], ...], meter: int, chance: Chance
) -> tuple[TuneTone, ...]:
    """Return the motif of a piece over `chords`, the pitch classes of its four bars, root first.

    It has one rhythm in both halves. Where the rules leave no tune on one rhythm, the next is
    taken; in meters without any, a plain one.
    """
    ground = _Ground(key, chords, meter)
    rhythms = _rhythms(meter)
    begins = chance.between(0, len(rhythms) - 1, "motif rhythm")
    for turn in range(len(rhythms)):
        rhythm = rhythms[(begins + turn) % len(rhythms)]
        firsts = _first_halves(ground, rhythm)
        for attempt in range(min(12, len(firsts))):
            first = chance.pick(firsts, "motif first", attempt)
            seconds = _second_halves(ground, rhythm, first)
            if seconds:
                return _timed(rhythm, (first, chance.pick(seconds, "motif second")), meter)
    return _timed((0, 2 * meter), ((4, 1), (2, 0)), meter)


def _timed(
    rhythm: tuple[int, ...], halves: tuple[Sequence[int], Sequence[int]], meter: int
) -> tuple[TuneTone, ...]:
    """Return the tones in time; between the halves, and after them, is a breath of a beat."""
    tones = []
    ends = (*rhythm, 2 * SPAN * meter - 2)
    for half, steps in enumerate(halves):
        begins = SPAN * meter * half
        for place, step in enumerate(steps):
            start, end = Fraction(ends[place], 2), Fraction(ends[place + 1], 2)
            tones.append(TuneTone(begins + start, end - start, step, half))
    return tuple(tones)
