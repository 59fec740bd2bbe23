"""Plan random briefs that ask for too much, and report how well they are answered.

Run: .venv/bin/python benchmarks/no_routine.py --count 300

A brief counts as answered where a set of wishes to loosen is offered, or a clinician has to be
asked first. Every EVERY-th offer is put into the brief as its reader would, planned afresh and held
against the checker. The reference, in the same run on the same briefs, is what anybody would do
without reasons: take away each wish in turn, plan again, and see whether it works.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.codec.brief import brief_from_dict, brief_to_dict
from rondel.model.finding import Loosening, Outcome, Severity
from rondel.model.repertoire import Craft
from rondel.planner.attempts import QUICK
from rondel.planner.plan import NOT_PROVEN, may_be_planned, plan
from rondel.planner.reasons import clinician_reasons

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from impossible_briefs import impossible_brief

EVERY = 10
GOAL_SECONDS = 3.0  # at 15 minutes, 95 of 100


def loosened(brief: Brief, entry: Loosening) -> Brief:
    """Return the brief with an offer put in, key by key, as from a file."""
    data = brief_to_dict(brief)
    for change in entry.changes:
        data.pop(change.wish, None)
        if change.to is not None:
            data[change.wish] = change.to
    return brief_from_dict(data)


def holds(brief: Brief, entry: Loosening, craft: Craft) -> bool:
    """True where the offer, planned afresh, gives a routine without a broken rule."""
    changed = loosened(brief, entry)
    routine = plan(changed, craft, effort=QUICK).routine
    if routine is None:
        return False
    return all(f.severity is not Severity.MUST for f in check(routine, craft, changed))


def blind(brief: Brief, craft: Craft) -> bool:
    """True where taking away one whole wish, whichever, gives a routine."""
    bare = Brief(
        title=brief.title, minutes=brief.minutes, intention=brief.intention, level=brief.level
    )
    without = [
        replace(brief, **{wish: getattr(bare, wish)})
        for wish in ("refrains", "main_regions", "avoid_regions", "spare", "positions")
        if getattr(brief, wish) != getattr(bare, wish)
    ]
    without += [replace(brief, open_minutes=Fraction(0))] if brief.open_minutes else []
    without += [replace(brief, bpm=None)] if brief.bpm is not None else []
    without += [
        replace(brief, keep=brief.keep[:i] + brief.keep[i + 1 :]) for i, _ in enumerate(brief.keep)
    ]
    works = [may_be_planned(changed, craft) for changed in without]  # each is tried
    return any(works)


def is_answered(outcome: Outcome, brief: Brief, craft: Craft) -> bool:
    return bool(outcome.loosen) or bool(clinician_reasons(brief, craft))


def measure(first: int, count: int, minutes: Fraction | None, show: bool) -> None:
    """Answer `count` briefs that cannot be met, from seed `first` on, and print the figures."""
    craft = builtin_craft()
    seconds: list[float] = []
    blind_seconds: list[float] = []
    figures: Counter[str] = Counter()
    sizes: Counter[int] = Counter()
    offers: list[int] = []
    seed = first
    while len(seconds) < count:
        brief = impossible_brief(seed, craft, minutes=minutes)
        seed += 1
        start = time.process_time()
        outcome = plan(brief, craft)
        took = time.process_time() - start
        if outcome.routine is not None:
            figures["could be planned"] += 1
            continue
        seconds.append(took)
        figures["answered"] += is_answered(outcome, brief, craft)
        figures["proven"] += NOT_PROVEN not in outcome.reasons
        if outcome.loosen:
            sizes[len(outcome.loosen[0].sentences)] += 1
            offers.append(len(outcome.loosen))
        if show and (took > GOAL_SECONDS or not is_answered(outcome, brief, craft)):
            print(brief.title, f"{took:.1f} s", outcome.reasons, [x.says for x in outcome.loosen])
        if len(seconds) % EVERY == 0:
            for entry in outcome.loosen:
                figures["offers planned afresh"] += 1
                figures["offers that held"] += holds(brief, entry, craft)
            figures["of the reference answered"] += is_answered(outcome, brief, craft)
            start = time.process_time()
            figures["reference answers"] += blind(brief, craft) or bool(
                clinician_reasons(brief, craft)
            )
            blind_seconds.append((time.process_time() - start) / max(took, 1e-3))
    tell(count, seconds, blind_seconds, figures, sizes, offers)


def tell(
    count: int,
    seconds: list[float],
    blind_seconds: list[float],
    figures: Counter[str],
    sizes: Counter[int],
    offers: list[int],
) -> None:
    """Print the figures."""
    seconds = sorted(seconds)
    p95 = seconds[int(0.95 * (len(seconds) - 1))]
    compared = len(blind_seconds)
    print(f"briefs that cannot be met {count} (besides, {figures['could be planned']} could be)")
    print(
        f"answered with what to loosen, or a clinician: {100 * figures['answered'] / count:.1f} %"
    )
    print(f"with a reason that proves it: {100 * figures['proven'] / count:.1f} %")
    print(
        f"CPU s: median {statistics.median(seconds):.2f}, p95 {p95:.2f} (goal {GOAL_SECONDS:g} "
        f"at 15 minutes), max {seconds[-1]:.2f}"
    )
    print("wishes in the smallest sets:", ", ".join(f"{n}: {sizes[n]}" for n in sorted(sizes)))
    print(f"offers a brief: median {statistics.median(offers):g}")
    print(f"offers that held afresh: {figures['offers that held']}", end="")
    print(f" of {figures['offers planned afresh']}")
    if compared:
        print(
            f"reference (each wish taken away blindly), on {compared} briefs: answers "
            f"{figures['reference answers']} where this answers "
            f"{figures['of the reference answered']}, in {statistics.median(blind_seconds):.2f} "
            "of the time (median of ratios)"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--minutes", type=Fraction, default=Fraction(15))
    parser.add_argument("--any-length", action="store_true", help="4 to 30 minutes")
    parser.add_argument("--show", action="store_true", help="print what is slow or unanswered")
    asked = parser.parse_args()
    minutes = None if asked.any_length else asked.minutes
    measure(asked.first, asked.count, minutes, asked.show)
