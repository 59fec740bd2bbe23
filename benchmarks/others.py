"""Three clearly different plans for random briefs of fifteen minutes: how many are found, how much
they share, how much further from the wishes they are than the best plan, and how long it takes.

    .venv/bin/python benchmarks/others.py --count 20
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from itertools import combinations
from pathlib import Path

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.planner.nearness import share_alike
from rondel.planner.others import others

sys.path.insert(0, str(Path(__file__).parent))

from change import routines

WANTED = 3
DEARER = 1.15  # the most that another plan should cost, of the first one's cost


def measure(first: int, count: int) -> None:
    """Ask for other plans of `count` routines, and print a line for each and the figures."""
    craft = builtin_craft()
    took: list[float] = []
    shares: list[float] = []
    ratios: list[float] = []
    there: list[int] = []
    for seed, routine, _ in routines(first, craft):
        assert routine.brief is not None
        assert routine.proof is not None
        began = time.process_time()
        found = others(routine.brief, craft, routine, WANTED)
        took.append(time.process_time() - began)
        there.append(len(found))
        alike = [share_alike(a, b) for a, b in combinations((routine, *found), 2)]
        costs = [_cost(r) / _cost(routine) for r in found]
        shares += alike
        ratios += costs
        broken = sum(_is_broken(r, craft) for r in found)
        print(
            f"{seed}: {len(found)} found in {took[-1]:.2f} s; most shared "
            f"{max(alike, default=0.0):.2f}; cost of the first "
            + ", ".join(f"{c:.2f}" for c in costs)
            + (f"; {broken} break a rule" if broken else ""),
            flush=True,
        )
        if len(took) >= count:
            break
    _report(took, shares, ratios, there)


def _cost(routine: Routine) -> float:
    assert routine.proof is not None
    assert routine.proof.objective is not None
    return routine.proof.objective


def _is_broken(routine: Routine, craft: Craft) -> bool:
    return any(f.severity is Severity.MUST for f in check(routine, craft))


def _report(took: list[float], shares: list[float], ratios: list[float], there: list[int]) -> None:
    over = sum(r > DEARER for r in ratios)
    full = sum(n == WANTED for n in there)
    print(
        f"briefs {len(there)}, with all {WANTED}: {full}, found {sum(there)} of "
        f"{WANTED * len(there)}"
    )
    print(f"CPU s: median {statistics.median(took):.2f}, worst {max(took):.2f}")
    print(f"shared: worst {max(shares, default=0.0):.2f}")
    if ratios:
        print(f"cost of the first: median {statistics.median(ratios):.3f}, worst {max(ratios):.3f}")
        print(f"more than {DEARER}: {over} of {len(ratios)}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    measure(asked.first, asked.count)
