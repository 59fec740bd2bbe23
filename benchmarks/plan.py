"""Plan many random briefs and report: how many found, how long it took, what the checker says.

Run: .venv/bin/python benchmarks/plan.py --count 500

The reference, in the same run and on every tenth brief, is the quick narrow search (one refrain
row, few states kept): time and cost of the usual search are printed as ratios to its own.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections import Counter
from pathlib import Path

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.attempts import QUICK
from rondel.planner.plan import plan

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from planner_briefs import random_brief

EVERY = 10  # briefs that are also planned quickly


def against_quick(routine: Routine, craft: Craft, took: float) -> tuple[float, float] | None:
    """Return (time, cost) of `routine` as ratios to those of the quick search, if it finds one."""
    assert routine.brief is not None
    start = time.process_time()
    quick = plan(routine.brief, craft, effort=QUICK).routine
    if quick is None or quick.proof.objective <= 0:
        return None
    return (
        took / (time.process_time() - start),
        routine.proof.objective / quick.proof.objective,
    )


def measure(first: int, count: int, longest: int, show: bool) -> None:
    """Plan `count` briefs from seed `first` on, and print the figures."""
    craft = builtin_craft()
    seconds: list[float] = []
    refused: list[float] = []
    findings: Counter[str] = Counter()
    explained = 0
    ratios: list[tuple[float, float]] = []
    for seed in range(first, first + count):
        brief = random_brief(seed, craft, longest=longest)
        start = time.process_time()
        outcome = plan(brief, craft)
        took = time.process_time() - start
        if outcome.routine is None:
            refused.append(took)
            explained += bool(outcome.reasons)
            if show:
                print(seed, round(took, 1), outcome.reasons, outcome.loosen)
            continue
        seconds.append(took)
        if seed % EVERY == 0 and (pair := against_quick(outcome.routine, craft, took)):
            ratios.append(pair)
        for finding in check(outcome.routine, craft, brief):
            findings[f"{finding.severity}: {finding.rule}"] += 1
            if finding.severity is Severity.MUST:
                print(seed, finding)
    print(f"briefs {count}, planned {len(seconds)}, refused {len(refused)} ({explained} say why)")
    for name, times in (("planned", seconds), ("refused", refused)):
        if times:
            worst = sorted(times)[int(0.95 * (len(times) - 1))]
            median = statistics.median(times)
            print(f"{name}: CPU s median {median:.2f}, p95 {worst:.2f}, max {max(times):.2f}")
    if ratios:
        longer, cost = (statistics.median(column) for column in zip(*ratios, strict=True))
        print(
            f"against the quick search: {longer:.2f} of its time, {cost:.2f} of its cost (medians)"
        )
    for name, times_found in findings.most_common():
        print(f"{name}: {times_found}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--longest", type=int, default=60)
    parser.add_argument("--show", action="store_true", help="print why briefs were refused")
    asked = parser.parse_args()
    measure(asked.first, asked.count, asked.longest, asked.show)
