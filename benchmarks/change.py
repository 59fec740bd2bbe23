"""Change one passage of random routines of fifteen minutes: how fast, and how much else changes.

    .venv/bin/python benchmarks/change.py --count 100

Every routine is also planned from scratch in the same run, so that the ratio of the two times does
not hang on the machine. Edits are of work, and none that needs no planning is counted.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from rondel.adapters.craft_files import builtin_craft
from rondel.app.change_plan import Changed, change_plan
from rondel.app.make_plan import make_plan
from rondel.checker.check import check
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from planner_briefs import random_brief
from random_edits import sensible_edit

MINUTES = 15
EDITS = 4  # of each routine


def routines(first: int, craft: Craft) -> Iterator[tuple[int, Routine, float]]:
    """Yield routines with their seeds, and the seconds that it took to plan them."""
    seed = first
    while True:
        brief = random_brief(seed, craft)
        brief = replace(
            brief, minutes=Fraction(MINUTES), open_minutes=min(brief.open_minutes, Fraction(1))
        )
        start = time.process_time()
        routine = make_plan(brief, craft).routine
        if routine is not None:
            yield seed, routine, time.process_time() - start
        seed += 1


def measure(first: int, count: int, show: bool) -> None:
    """Try `count` edits and print the figures."""
    craft = builtin_craft()
    seconds: list[float] = []
    refused: list[float] = []
    ratios: list[float] = []
    shares: list[float] = []
    broken: Counter[str] = Counter()
    for seed, routine, planned in routines(first, craft):
        for number in range(EDITS):
            edit = sensible_edit(1000 * seed + number, routine, craft)
            start = time.process_time()
            changed = change_plan(routine, edit, craft)
            took = time.process_time() - start
            new = changed.outcome.routine
            if show:
                print(seed, f"{took:.2f} s", edit, _came_to(changed))
            if new is None:
                refused.append(took)
            else:
                seconds.append(took)
                ratios.append(took / planned)
                shares.append(changed.changed_bars / new.bars)
                broken.update(f.rule for f in check(new, craft) if f.severity is Severity.MUST)
            if len(seconds) + len(refused) >= count:
                _report(seconds, refused, ratios, shares, broken)
                return


def _came_to(changed: Changed) -> str:
    if changed.outcome.routine is None:
        return " ".join(changed.outcome.reasons)
    return f"{changed.changed_bars} bars besides {changed.asked_bars}"


def _report(
    seconds: list[float],
    refused: list[float],
    ratios: list[float],
    shares: list[float],
    broken: Counter[str],
) -> None:
    print(f"edits {len(seconds) + len(refused)}, done {len(seconds)}, refused {len(refused)}")
    for name, times in (("done", seconds), ("refused", refused)):
        if times:
            print(f"{name}: CPU s {_spread(times)}")
    if seconds:
        print(f"against planning from scratch: {_spread(ratios)} of its time")
        print(
            f"share of bars changed besides: mean {statistics.mean(shares):.3f}, {_spread(shares)}"
        )
        over = sum(share > 0.15 for share in shares)
        print(f"edits with more than 15 % of bars changed besides: {over}")
    for rule, times_found in broken.most_common():
        print(f"broken: {rule} {times_found}")


def _spread(values: list[float]) -> str:
    ordered = sorted(values)
    p95 = ordered[int(0.95 * (len(ordered) - 1))]
    return f"median {statistics.median(ordered):.3f}, p95 {p95:.3f}, max {ordered[-1]:.3f}"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--show", action="store_true", help="print every edit and what it came to")
    asked = parser.parse_args()
    measure(asked.first, asked.count, asked.show)
