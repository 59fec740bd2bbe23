"""How well routines are set to brought tracks, judged by the truth of made-up ambient tracks.

    python benchmarks/set_to_track.py [COUNT]            # set to the truth: fast
    python benchmarks/set_to_track.py [COUNT] --heard    # rendered, listened to, then set
    python benchmarks/set_to_track.py --test             # the same, on the test seeds of the S set

Tracks, minutes, intention and level are random by seed (`--test`: tracks of five minutes). Nothing
was tuned on these seeds but what decision 12 tells of the test seeds: a threshold looked at again,
and the judge changed once, after some had failed. A routine is judged by the checker, and apart
from it by `tests/track_truth.py`, which reads what is true of the track and not what was heard.
Seconds are CPU seconds of one thread.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from ambient_tracks import make_track
from heard_tracks import ambient, brief_of
from rondel.adapters.craft_files import builtin_craft
from rondel.app.set_track import set_track
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.track import Heard
from rondel.planner.attempts import NORMAL
from rondel.planner.plan import plan
from track_truth import broken, strokes_on_beats

FIRST_SEED = 7000
MINUTES = (4, 5, 6, 8, 10, 12, 15, 20)
INTENTIONS = ("settle", "wake", "sleep", "closeness")


def wish(seed: int) -> tuple[Brief, float]:
    """Return a random brief, and about how long its track is: half to twice as long."""
    dice = random.Random(seed)
    minutes = dice.choice(MINUTES)
    brief = replace(
        brief_of(minutes, dice.choice(INTENTIONS)),
        level=dice.randint(1, 5),
        stretch=dice.random() < 0.5,
    )
    return brief, max(120.0, minutes * 60 * dice.uniform(0.5, 2))


def heard_as(seed: int, seconds: float) -> Heard:
    """Return what Rondel hears in the rendered track."""
    from rondel.adapters.beat_weights import builtin_network
    from rondel.listening.features import FeatureStream
    from rondel.listening.hearing import first_heard

    track = make_track(seed, seconds)
    stream = FeatureStream(track.rate)
    stream.feed(track.sound)
    return first_heard(stream.features(), builtin_network())


def planned(brief: Brief, heard: Heard, craft: Craft) -> tuple[Routine | None, float, float]:
    """Return the routine, and the CPU seconds of laying out and of planning."""
    begun = time.process_time()
    laid = set_track(brief, heard)
    between = time.process_time()
    routine = plan(laid, craft, effort=NORMAL, loosen=False).routine
    return routine, between - begun, time.process_time() - between


class Tally:
    """What was found of all routines so far."""

    def __init__(self) -> None:
        self.tried = self.found = 0
        self.must: Counter[str] = Counter()
        self.mind: Counter[str] = Counter()
        self.truth: Counter[str] = Counter()
        self.strokes = [0, 0, 0, 0]  # met and all, then the same where a beat is heard
        self.laying: list[float] = []
        self.planning: list[float] = []

    def add(self, routine: Routine, truth: Heard, craft: Craft) -> str:
        """Judge one routine, and return it in a line."""
        self.found += 1
        findings = check(routine, craft)
        self.must.update(f.rule for f in findings if f.severity is Severity.MUST)
        self.mind.update(f.rule for f in findings if f.severity is Severity.MIND)
        told = broken(routine, truth, craft)
        self.truth.update(says.partition(":")[0].partition(" at ")[0] for says in told)
        met = strokes_on_beats(routine, truth) + strokes_on_beats(routine, truth, only_heard=True)
        self.strokes = [a + b for a, b in zip(self.strokes, met, strict=True)]
        return f"strokes {met[0]}/{met[1]}, with a beat {met[2]}/{met[3]}; {told or 'kept'}"

    def report(self) -> None:
        met, every, met_heard, heard = self.strokes
        print(f"planned: {self.found} of {self.tried}")
        print(f"must, by the checker: {dict(self.must) or 'none broken'}")
        print(f"must, by the truth: {dict(self.truth) or 'none broken'}")
        print(f"strokes within 2.5 % of the interval of a true beat: {met / max(1, every):.1%}")
        print(f"  of those where a beat is heard: {met_heard / max(1, heard):.1%}")
        a_routine = {rule: round(n / max(1, self.found), 2) for rule, n in self.mind.items()}
        print(f"minded, findings a routine: {a_routine}")
        for name, times in (("laying", self.laying), ("planning", self.planning)):
            print(f"{name}, CPU s: median {median(times):.2f}, most {max(times):.2f}")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("count", nargs="?", type=int, default=40)
    parser.add_argument("--heard", action="store_true")
    parser.add_argument("--test", action="store_true")
    arguments = parser.parse_args()
    craft, tally = builtin_craft(), Tally()
    split = json.loads((Path(__file__).parent / "tracks" / "split.json").read_text("utf-8"))
    seeds = split["test"] if arguments.test else range(FIRST_SEED, FIRST_SEED + arguments.count)
    for seed in seeds:
        brief, seconds = wish(seed)
        seconds = float(split["seconds"]) if arguments.test else seconds
        truth = ambient(seed, seconds)
        is_heard = arguments.heard or arguments.test
        heard = heard_as(seed, seconds) if is_heard else truth
        routine, laying, planning = planned(brief, heard, craft)
        tally.tried += 1
        tally.laying.append(laying)
        tally.planning.append(planning)
        told = "no routine" if routine is None else tally.add(routine, truth, craft)
        print(f"{seed}: {seconds:.0f} s for {float(brief.minutes):g} min; {told}", flush=True)
    tally.report()


if __name__ == "__main__":
    main()
