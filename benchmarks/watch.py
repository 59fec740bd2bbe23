"""How well are strokes seen in takes whose truth is known, next to plain references?

    python benchmarks/watch.py [--part tuning|test] [--first N] [--count 4] [--hard 4] [--each]

Takes are drawn here (`tests/take_motion.py`, `tests/take_scenes.py`): textured hands on a textured
back, exact to the frame. Tuning seeds begin at 100, test seeds at 5000; nothing was tuned on the
latter. Landings are matched one to one within one or two frames of 25 a second. Where hands go
round, when they land is a convention: one tap, the third landing, tells it, as a teacher would.

The references, on the same flow: turns of the mean movement along its main way in the whole take
(no stretches, no kinds), and a stroke every usual period from the first true landing on.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from rondel.model.take import MotionKind
from rondel.watching.seeing import see_signals
from rondel.watching.signals import Signals, signals_of
from rondel.watching.stretch import Read
from rondel.watching.turns import ONE_TURN, landings_at, turns_at
from take_motion import Kind, Motion, make_motion
from take_moved import moved_in
from take_scenes import TakeScene, Trouble

FIRST = {"tuning": 100, "test": 5000}
FRAME = 0.04
#: A half of the last bit for rounding.
SPARE = 0.001
HARD = Trouble(noise=4, highlights=4, stretch=5, crossings_a_minute=3)
ORDERS = (
    (Kind.GLIDE, Kind.ALTERNATE, Kind.CIRCLE),
    (Kind.CIRCLE, Kind.GLIDE, Kind.PRESS, Kind.ALTERNATE),
    (Kind.ALTERNATE, Kind.GLIDE),
    (Kind.GLIDE, Kind.CIRCLE, Kind.GLIDE),
    (Kind.CIRCLE, Kind.ALTERNATE, Kind.GLIDE, Kind.CIRCLE),
)


@dataclass(slots=True)
class Row:
    """What came of the takes of one kind."""

    one: list[float] = field(default_factory=list)
    two: list[float] = field(default_factory=list)
    off: list[float] = field(default_factory=list)
    turns: list[float] = field(default_factory=list)
    even: list[float] = field(default_factory=list)
    slips: list[tuple[int, int, int]] = field(default_factory=list)
    minutes: float = 0.0
    ms: list[float] = field(default_factory=list)


def takes(first: int, count: int, hard: int) -> Iterator[tuple[str, TakeScene]]:
    """Yield (row, take): single kinds with little and much jitter, mixed ones, hard ones."""
    jitters = (0.05, 0.15, 0.25, 0.15)
    for kind in Kind:
        for n in range(count):
            motion = make_motion(
                first + n,
                60,
                (kind,),
                jitter=jitters[n % 4],
                slips_a_minute=2 if n % 2 else 0,
                pauses_a_minute=1 if n % 4 > 1 else 0,
            )
            scene = TakeScene(motion=motion, trouble=Trouble(), is_variable=n % 4 == 3)
            yield kind.value, scene
    for n, order in enumerate(ORDERS):
        seed = first + 100 + n
        motion = make_motion(seed, 100, order, slips_a_minute=1, pauses_a_minute=1)
        yield "mixed", TakeScene(motion=motion, trouble=Trouble())
    for n in range(hard):
        kind = (Kind.GLIDE, Kind.ALTERNATE, Kind.CIRCLE, Kind.GLIDE)[n % 4]
        motion = make_motion(first + 200 + n, 60, (kind,), leaves_a_minute=1.5)
        yield "glare, stretch, crossing", TakeScene(motion=motion, trouble=HARD)


def matched(
    truth: tuple[float, ...], found: list[float], within: float
) -> tuple[float, list[float]]:
    """Return the F measure and the seconds that each found landing is off, one to one."""
    free, off = sorted(found), []
    for landing in truth:
        near = min(free, key=lambda one: abs(one - landing), default=None)
        if near is not None and abs(near - landing) <= within + SPARE:
            off.append(near - landing)
            free.remove(near)
    return 2 * len(off) / max(1, len(truth) + len(found)), off


def tapped(read: Read, truth: tuple[float, ...]) -> list[float]:
    """Return the landings of a motion that goes round as one tap puts them."""
    if read.kind is not MotionKind.CIRCLE or len(read.eighths) <= ONE_TURN or len(truth) < 3:
        return list(read.landings)
    place = turns_at(read.eighths, read.pauses, truth[2])
    return list(landings_at(read.eighths, read.pauses, place, read.end))


def landings_of(reads: tuple[Read, ...], motion: Motion) -> list[float]:
    found: list[float] = []
    for read in reads:
        middle = (read.start + read.end) / 2
        own = next((s for s in motion.stretches if s.start <= middle <= s.end), None)
        found += tapped(read, own.landings if own else ())
    return found


def turns_of(signals: Signals) -> list[float]:
    """Return where the mean movement turns along its main way: the plain reference."""
    rows = signals.together[1]
    _, vectors = np.linalg.eigh(rows.T @ rows)
    main = rows @ vectors[:, -1]
    return [float(signals.at[n]) for n in np.flatnonzero(np.diff(np.sign(main)))]


def slips_met(
    truth: tuple[tuple[float, float], ...], reads: tuple[Read, ...]
) -> tuple[int, int, int]:
    """Return how many slips were found, how many there are, and how many found are none."""
    found = [slip for read in reads for slip in read.slips]

    def meets(one: tuple[float, float], two: tuple[float, float]) -> bool:
        return one[0] < two[1] + 0.3 and two[0] < one[1] + 0.3

    hit = sum(any(meets(slip, one) for one in found) for slip in truth)
    return hit, len(truth), sum(not any(meets(slip, one) for slip in truth) for one in found)


def measure(scene: TakeScene, row: Row) -> tuple[float, float]:
    motion = scene.motion
    moved, ms = moved_in(scene)
    signals = signals_of(moved)
    reads = see_signals(signals).reads
    found = landings_of(reads, motion)
    one, off = matched(motion.landings, found, FRAME)
    two, _ = matched(motion.landings, found, 2 * FRAME)
    row.one.append(one)
    row.two.append(two)
    row.off += [1000 * abs(t) for t in off]
    row.turns.append(matched(motion.landings, turns_of(signals), 2 * FRAME)[0])
    usual = float(np.median(np.diff(motion.landings)))
    grid = list(np.arange(motion.landings[0], motion.seconds, usual))
    row.even.append(matched(motion.landings, grid, 2 * FRAME)[0])
    row.slips.append(slips_met(motion.slips, reads))
    row.minutes += motion.seconds / 60
    row.ms.append(ms)
    return one, two


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure how well strokes are seen.")
    parser.add_argument("--part", choices=sorted(FIRST), default="test")
    parser.add_argument("--first", type=int, help="the first seed, in place of the part's")
    parser.add_argument("--count", type=int, default=4, help="takes of every single kind")
    parser.add_argument("--hard", type=int, default=4, help="takes with glare and crossing hands")
    parser.add_argument("--each", action="store_true", help="a line for every take")
    asked = parser.parse_args()
    first = FIRST[asked.part] if asked.first is None else asked.first
    rows: dict[str, Row] = {}
    for name, scene in takes(first, asked.count, asked.hard):
        one, two = measure(scene, rows.setdefault(name, Row()))
        if asked.each:
            print(f"  {name} {scene.motion.seed}: F1 {one:.3f} F2 {two:.3f}", flush=True)
    for name, row in rows.items():
        slips = np.array(row.slips).sum(axis=0)
        print(
            f"{name} ({len(row.one)}): F ±1 frame {np.mean(row.one):.3f}, ±2 {np.mean(row.two):.3f}"
            f", median {np.median(row.off) if row.off else float('nan'):.0f} ms; plain turns ±2"
            f" {np.mean(row.turns):.3f}, even ±2 {np.mean(row.even):.3f}; slips {slips[0]} of"
            f" {slips[1]}, {slips[2] / row.minutes:.2f} false a minute;"
            f" {np.mean(row.ms):.1f} ms a frame"
        )


if __name__ == "__main__":
    main()
