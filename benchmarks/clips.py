"""Whether repetitive work that is no massage is counted: cycles found in clips of known truth.

`python benchmarks/clips.py FOLDER`, after `python benchmarks/clips_make.py FOLDER` has made the
clips (it needs mujoco, scikit-image and a library for drawing without a screen; this does not).

A cycle of hands that go to and fro, or hand after hand, is two landings; of a circle or a press,
one. Which it is, is what Rondel saw. The reference counts peaks of the mean movement along its main
way in the whole clip, with nothing told apart.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import numpy as np
from scipy.signal import find_peaks

from rondel.adapters.take_files import TakeFiles
from rondel.app.progress import Silent
from rondel.app.watch_take import seen_in
from rondel.model.take import MotionKind, Seen
from rondel.watching.signals import RATE, Signals, signals_of

#: Landings in a cycle.
LANDINGS = {
    MotionKind.GLIDE: 2.0,
    MotionKind.ALTERNATE: 2.0,
    MotionKind.CIRCLE: 1.0,
    MotionKind.PRESS: 1.0,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    clips = sorted(parser.parse_args().folder.glob("*.mp4"))
    near = plain = 0
    print("clip          true  found  peaks   seen as")
    for clip in clips:
        truth = len(json.loads(clip.with_suffix(".json").read_text("utf-8"))["cycles"])
        watched = TakeFiles().watched(clip, Silent())
        seen = seen_in(watched)
        found, peaks = cycles_in(seen), _peaks(signals_of(watched.moved))
        near += abs(found - truth) <= 1
        plain += abs(peaks - truth) <= 1
        kinds = ", ".join(f"{one.kind} {len(one.landings)}" for one in seen.stretches)
        print(f"{clip.stem:<12} {truth:5} {found:6.1f} {peaks:6}   {kinds}", flush=True)
    print(f"within one cycle: {near} of {len(clips)} (goal 7 of 8); peaks alone: {plain}")
    if plain:
        print(f"ratio to peaks alone: {near / plain:.2f}")


def cycles_in(seen: Seen) -> float:
    """Return how many cycles were seen in a clip."""
    return sum(len(one.landings) / LANDINGS[one.kind] for one in seen.stretches)


def _peaks(signals: Signals) -> int:
    """Return how often the mean movement along its main way comes to a peak."""
    middle = signals.together[1]  # over four pictures
    ways = middle - middle.mean(axis=0)
    _, _, axes = np.linalg.svd(ways, full_matrices=False)
    moved = ways @ axes[0]
    peaks, _ = find_peaks(moved, prominence=float(moved.std()), distance=int(0.2 * RATE))
    return len(peaks)


if __name__ == "__main__":
    main()
