"""Are hands that leave the picture told from hands that rest in it?

    python benchmarks/away.py [--first N] [--count N]

Takes are drawn as in `watch.py`, with hands that leave and come back and hands that rest, as many
of each, of all four kinds of motion; every second one with glare, stretching skin and crossing
arms, and every third one with hands that take twice as long to leave. Seeds from 20000 to 20999
are for tuning, and all others from 9300 on are not. A span counts as found where more than half of
it is in one that was found, and a found one as false where less than half of it is true. Beside it
a plain reference: every time that nothing moves for as long as it does there.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

import take_motion
from rondel.watching.away import Spans, away_spans
from rondel.watching.signals import signals_of
from rondel.watching.spans import spans_of
from take_motion import Kind, make_motion
from take_moved import moved_in
from take_scenes import TakeScene, Trouble
from watch import HARD

LEAVES = 0.7  # seconds, as `take_motion` has them
STILL_SECONDS = 0.6


def shared(one: tuple[float, float], others: Spans) -> float:
    """Return how much of `one` is in `others`, 0 to 1."""
    held = sum(max(0.0, min(one[1], end) - max(one[0], start)) for start, end in others)
    return held / (one[1] - one[0])


def scene_of(seed: int, kind: Kind, number: int) -> TakeScene:
    take_motion.MOVE_SECONDS = 2 * LEAVES if number % 3 == 2 else LEAVES
    motion = make_motion(seed, 60, (kind,), pauses_a_minute=2.5, leaves_a_minute=2.5)
    return TakeScene(motion=motion, trouble=HARD if number % 2 else Trouble())


def still_spans(scene: TakeScene, speed: np.ndarray, at: np.ndarray) -> Spans:
    """Return when nothing moves: the plain reference."""
    low = speed < 0.15 * np.percentile(speed, 80)
    return tuple(spans_of(np.asarray(low), at, STILL_SECONDS))


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure how hands out of the picture are told.")
    parser.add_argument("--first", type=int, default=9300)
    parser.add_argument("--count", type=int, default=4, help="takes of every kind")
    asked = parser.parse_args()
    there = found = false = still_there = still_false = rests = 0
    edges: list[float] = []
    for number in range(asked.count * len(Kind)):
        kind = tuple(Kind)[number % len(Kind)]
        scene = scene_of(asked.first + number, kind, number // len(Kind))
        truth, (moved, _) = scene.motion.away, moved_in(scene)
        told = away_spans(moved)
        signals = signals_of(moved)
        still = still_spans(scene, signals.speed[1], signals.at)
        hits = [shared(one, told) > 0.5 for one in truth]
        wrong = [one for one in told if shared(one, truth) < 0.5]
        there, found, false = there + len(truth), found + sum(hits), false + len(wrong)
        rests += len(scene.motion.pauses)
        still_there += sum(shared(one, still) > 0.3 for one in truth)
        still_false += sum(shared(one, truth) < 0.5 for one in still)
        for one in told:
            near = [two for two in truth if shared(one, (two,)) > 0.5]
            edges += [abs(a - b) for two in near for a, b in zip(one, two, strict=True)]
        print(
            f"  {kind.value} {scene.motion.seed}: {sum(hits)} of {len(truth)}, {len(wrong)} false"
        )
    print(
        f"{found} of {there} found, {false} false, beside {rests} rests; edges off by"
        f" {1000 * float(np.median(edges)):.0f} ms at the median, {1000 * max(edges):.0f} at most."
        f" Whatever stands still: {still_there} of {there}, {still_false} false."
    )


if __name__ == "__main__":
    main()
