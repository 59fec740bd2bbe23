"""How fast and how good plans are, as a table with a reference measured in the same run.

    .venv/bin/python benchmarks/plan.py                          # the table
    .venv/bin/python benchmarks/plan.py --rows first,proof       # some of its rows
    .venv/bin/python benchmarks/plan.py --random 10000 --state random.jsonl --jobs 2

The table plans 20 briefs of 15 minutes from 48 techniques, chosen once for all from those built in,
and longer ones. Its references (`reference/`): a greedy planner that climbs, and the plain slot
model as an integer programme; all are judged by the same checker and the same score. Seconds are
CPU seconds; in forms over 20 minutes, where helpers on all cores search for a proof, by the clock.

With `--random`, random briefs are planned and judged by the checker. Every brief is one line in the
state file, so that a run may be killed at any moment and taken up again by the same command.
"""

from __future__ import annotations

import argparse
import random
import statistics
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path

from random_briefs import Kind, run
from reference.greedy import Planned, plan_greedily
from reference.slots import plan_in_slots
from rondel.adapters.craft_files import builtin_craft
from rondel.adapters.planning_crew import planning_crew
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Routine
from rondel.model.words import Contact, Family, Intention
from rondel.planner.attempts import QUICK, THOROUGH, Attempts, Found, is_by_homes
from rondel.planner.crew import Crew, NoCrew
from rondel.planner.others import others
from rondel.planner.plan import finished, plan

HERE = Path(__file__).parent

TECHNIQUES = 48
HOMELY = 12  # of them may be the refrain: four glides, eight holds and embraces
CLOSE_ENOUGH = 1.05
PROVED = 1e-5


@cache
def small_craft() -> Craft:
    """Return the built-in craft with 48 of its techniques: always the same, home strokes among
    them, since no routine does without."""
    craft = builtin_craft()
    dice = random.Random(TECHNIQUES)

    def some(count: int, fits: Callable[[Technique], bool]) -> list[Technique]:
        return dice.sample([t for t in craft.techniques if fits(t) and not t.helps_turn], count)

    glides = some(HOMELY // 3, lambda t: t.refrain and t.family is Family.GLIDING)
    held = some(HOMELY - HOMELY // 3, lambda t: t.refrain and t.family.is_held)
    rest = some(TECHNIQUES - HOMELY, lambda t: not t.refrain)
    ids = {t.id for t in [*glides, *held, *rest]}
    return replace(craft, techniques=tuple(t for t in craft.techniques if t.id in ids))


def brief_of(seed: int, minutes: int, craft: Craft) -> Brief:
    """Return a brief with a few wishes, all of a kind that the references know too."""
    dice = random.Random(1000 * minutes + seed)
    served = Counter(t.region for t in craft.techniques if not t.family.is_held)
    able = sorted(r for r, n in served.items() if n >= 3 and not craft.region(r).covers)
    mains = tuple(dice.sample(able, dice.randint(1, 3))) if dice.random() < 0.5 else ()
    avoided = tuple(dice.sample(able, 1)) if dice.random() < 0.25 else ()
    even = max(1, round(4 * (minutes / 15) ** 0.75))
    return Brief(
        title=f"Measured {minutes}-{seed}",
        minutes=Fraction(minutes),
        intention=list(Intention)[seed % 4],
        level=dice.randint(1, 5),
        refrains=even + dice.randint(-1, 1) if dice.random() < 0.5 else None,
        main_regions=mains,
        avoid_regions=tuple(r for r in avoided if r not in mains),
        spare=(dice.choice(list(Contact)),) if dice.random() < 0.25 else (),
        stretch=dice.random() < 0.7,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one search came to, `seconds` of CPU after the first began."""

    seconds: float
    cost: float
    bound: float | None
    is_proved: bool


def trail(brief: Brief, craft: Craft, seconds: float) -> list[Answer]:
    """Return how the search towards a proof stands whenever it pauses within `seconds` of CPU; in
    forms that are searched home by home, with helpers on all cores, within `seconds` by the clock.
    """
    if not is_by_homes(brief):
        return _trail(brief, craft, seconds, NoCrew(), time.process_time)
    with planning_crew(brief, craft) as crew:
        return _trail(brief, craft, seconds, crew, time.monotonic)


def _trail(
    brief: Brief, craft: Craft, seconds: float, crew: Crew, clock: Callable[[], float]
) -> list[Answer]:
    began = clock()
    attempts = Attempts(brief, craft, crew=crew)
    found: list[Answer] = []

    def note() -> bool:
        cost, bound = attempts.standing()
        at = clock() - began
        if found and bound is not None and (found[-1].cost, found[-1].bound) == (cost, bound):
            return at < seconds  # asked often while helpers are at work
        is_proved = bound is not None and bound >= cost - PROVED
        found.append(Answer(seconds=at, cost=cost, bound=bound, is_proved=is_proved))
        return at < seconds

    first = attempts.find(THOROUGH, note)
    if first is not None:
        note()
        check_proof(first, brief, craft)
    return found


def check_proof(found: Found, brief: Brief, craft: Craft) -> None:
    """Stop the benchmark where the plan is unlawful or costs other than the search says."""
    routine = finished(found, craft)
    if not is_sound(routine, craft, brief):
        raise SystemExit(f"{brief.title}: the plan breaks a rule")
    if abs(routine.proof.objective - found.cost) > PROVED:
        raise SystemExit(f"{brief.title}: the cost is not what the search says")


def best_cost(answers: list[Answer]) -> float:
    return min(a.cost for a in answers)


def best_bound(answers: list[Answer]) -> float | None:
    return max((a.bound for a in answers if a.bound is not None), default=None)


def gap(answers: list[Answer]) -> float | None:
    """Return how far the best cost is above what is proved, as a share of the cost."""
    bound, cost = best_bound(answers), best_cost(answers)
    if bound is None:
        return None
    return max(0.0, (cost - bound) / cost) if cost > 0 else 0.0


def is_near(answer: Answer) -> bool:
    """True where the plan then known was within 5 % of the bound then known."""
    return answer.bound is not None and answer.cost <= CLOSE_ENOUGH * answer.bound


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the table: what is measured, Rondel's figure, the reference's."""

    name: str
    figure: str
    reference: str


def middle(values: list[float], unit: str = " s") -> str:
    """Return median and 95th of a hundred, or a dash."""
    if not values:
        return "-"
    ranked = sorted(values)
    worst = ranked[max(0, -(-95 * len(ranked) // 100) - 1)]
    return f"{statistics.median(ranked):.2f}{unit} (p95 {worst:.2f})"


def of(values: list[float], count: int, unit: str = " s") -> str:
    """Return the median over all briefs; those that never got there count as endless."""
    if not values:
        return f"never (0 of {count})"
    ranked = [*sorted(values), *[float("inf")] * (count - len(values))]
    median = statistics.median(ranked)
    shown = f"{median:.2f}{unit}" if median < float("inf") else "more than the time given"
    return f"{shown} ({len(values)} of {count})"


def is_sound(routine: Routine, craft: Craft, brief: Brief) -> bool:
    return all(f.severity is not Severity.MUST for f in check(routine, craft, brief))


def first_rows(briefs: list[Brief], craft: Craft) -> list[Row]:
    """Measure the first valid plan, with the greedy planner beside it."""
    ours, theirs, sound, lower = [], [], 0, []
    for brief in briefs:
        began = time.process_time()
        routine = plan(brief, craft, effort=QUICK).routine
        took = time.process_time() - began
        reference = plan_greedily(brief, craft, seconds=max(1.0, took))
        if routine is not None:
            ours.append(took)
            sound += is_sound(routine, craft, brief)
        first = reference.first_valid()
        if first is not None:
            theirs.append(first)
        cost = cost_of(reference)
        if routine is not None and cost:
            lower.append(routine.proof.objective / cost)
    count = len(briefs)
    return [
        Row(
            name="15 min: first valid plan",
            figure=f"{middle(ours)}, {sound} of {len(ours)} sound, {count} asked",
            reference=f"greedy {middle(theirs)}, {len(theirs)} of {count} sound",
        ),
        Row(
            name="15 min: its cost, of greedy's after a second",
            figure=middle(lower, ""),
            reference="1",
        ),
    ]


def cost_of(planned: Planned) -> float | None:
    """Return the cost of the best reference plan; None where it breaks a rule."""
    last = planned.steps[-1].verdict if planned.steps else None
    return last.cost if last and not last.broken else None


def proof_rows(briefs: list[Brief], craft: Craft, seconds: float) -> list[Row]:
    """Measure the way to the proven bound, with both references given as much time as it took."""
    count, near, proved, gaps = len(briefs), [], [], []
    climbed: list[float] = []
    slotted: list[float] = []
    climbed_near, slot_seconds = [], []
    for brief in briefs:
        answers = trail(brief, craft, seconds)
        if not answers:
            continue
        bound, cost = best_bound(answers), best_cost(answers)
        if (at := next((a.seconds for a in answers if is_near(a)), None)) is not None:
            near.append(at)
        if answers[-1].is_proved:
            proved.append(answers[-1].seconds)
        if (share := gap(answers)) is not None:
            gaps.append(100 * share)
        took = max(1.0, answers[-1].seconds)
        greedy, slots = plan_greedily(brief, craft, took), plan_in_slots(brief, craft, took)
        for found, ratios in ((greedy, climbed), (slots.planned, slotted)):
            if (reference := cost_of(found)) and cost > 0:
                ratios.append(cost / reference)
        if slots.planned.steps:
            slot_seconds.append(slots.planned.steps[-1].seconds)
        if (at := greedy.reached(CLOSE_ENOUGH * (cost if bound is None else bound))) is not None:
            climbed_near.append(at)
    target = "proven bound" if gaps else "best known cost (no bound is given)"
    return [
        Row(
            name="15 min: within 5 % of the proven bound",
            figure=of(near, count) if gaps else "no bound is given",
            reference=f"greedy, of the {target}: {of(climbed_near, count)}",
        ),
        Row(
            name="15 min: proved to be the best",
            figure=of(proved, count),
            reference=f"slots, the best they find: {middle(slot_seconds)}",
        ),
        Row(
            name=f"15 min: gap after {seconds:g} s",
            figure=middle(gaps, " %") if gaps else "no bound is given",
            reference="-",
        ),
        Row(
            name="15 min: cost, of the references' after as long",
            figure=f"{middle(climbed, '')} of greedy's",
            reference=f"{middle(slotted, '')} of the slots' ({len(slotted)} of {count} sound)",
        ),
    ]


def long_rows(minutes: int, count: int, seconds: float) -> list[Row]:
    """Measure longer forms, from the whole repertoire."""
    craft = builtin_craft()
    first, gaps, ratios = [], [], []
    for seed in range(count):
        brief = brief_of(seed, minutes, craft)
        began = time.process_time()
        if plan(brief, craft, effort=QUICK).routine is not None:
            first.append(time.process_time() - began)
        answers = trail(brief, craft, seconds)
        if not answers:
            continue
        if (share := gap(answers)) is not None:
            gaps.append(100 * share)
        if reference := cost_of(plan_greedily(brief, craft, seconds)):
            ratios.append(best_cost(answers) / reference)
    shown = middle(gaps, " %") if gaps else "no bound is given"
    return [
        Row(name=f"{minutes} min: first plan", figure=middle(first), reference="-"),
        Row(name=f"{minutes} min: gap after {seconds:g} s", figure=shown, reference="-"),
        Row(
            name=f"{minutes} min: cost, of greedy's after {seconds:g} s",
            figure=middle(ratios, ""),
            reference=f"1 ({len(ratios)} of {count} sound)",
        ),
    ]


def others_rows(briefs: list[Brief], craft: Craft) -> list[Row]:
    """Measure three clearly different plans, beside planning once."""
    took, once, there = [], [], []
    for brief in briefs:
        began = time.process_time()
        routine = plan(brief, craft).routine
        if routine is None:
            continue
        once.append(time.process_time() - began)
        began = time.process_time()
        there.append(float(len(others(brief, craft, routine, 3))))
        took.append(time.process_time() - began)
    found = f"{statistics.mean(there):.1f} found on average" if there else "none"
    return [
        Row(
            name="15 min: three others",
            figure=f"{middle(took)}, {found}",
            reference=f"planning once {middle(once)}",
        )
    ]


def script_rows(name: str, script: str) -> list[Row]:
    """Run another benchmark, if it is there, and show what it prints."""
    path = HERE / script
    if not path.exists():
        return [Row(name=name, figure=f"benchmarks/{script} is not there", reference="-")]
    done = subprocess.run([sys.executable, str(path)], capture_output=True, text=True, check=False)
    said = (done.stdout if done.returncode == 0 else done.stderr).strip().splitlines()
    return [
        Row(name=name if i == 0 else "", figure=line, reference="")
        for i, line in enumerate(said[-12:] or ["it printed nothing"])
    ]


def table(rows: list[Row]) -> str:
    """Return `rows` in columns."""
    first = max(len(r.name) for r in rows)
    second = min(60, max(len(r.figure) for r in rows))
    return "\n".join(f"{r.name:{first}}  {r.figure:{second}}  {r.reference}".rstrip() for r in rows)


def measure(names: list[str], count: int, longer: int, seconds: float) -> None:
    """Print the rows asked for as they are ready."""
    craft = small_craft()
    briefs = [brief_of(seed, 15, craft) for seed in range(count)]
    groups: dict[str, Callable[[], list[Row]]] = {
        "first": lambda: first_rows(briefs, craft),
        "proof": lambda: proof_rows(briefs, craft, seconds),
        "thirty": lambda: long_rows(30, longer, seconds),
        "sixty": lambda: long_rows(60, longer, seconds),
        "ninety": lambda: long_rows(90, longer, seconds),
        "others": lambda: others_rows(briefs, craft),
        "change": lambda: script_rows("near edits", "change.py"),
        "no_routine": lambda: script_rows("no routine", "no_routine.py"),
    }
    for name in names or list(groups):
        print(table(groups[name]()), flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rows", default="", help="first,proof,thirty,sixty,ninety,others,...")
    parser.add_argument("--briefs", type=int, default=20, help="briefs of 15 minutes")
    parser.add_argument("--longer", type=int, default=4, help="briefs of every longer form")
    parser.add_argument("--seconds", type=float, default=60, help="CPU seconds for each search")
    parser.add_argument("--random", type=int, metavar="N", help="judge N random briefs instead")
    parser.add_argument("--first", type=int, default=0, help="the first seed of these")
    parser.add_argument("--state", type=Path, default=Path("out/random-briefs.jsonl"))
    parser.add_argument("--longest", type=int, default=60, help="minutes of the longest of these")
    parser.add_argument("--quick", action="store_true", help="look only quickly")
    parser.add_argument("--jobs", type=int, default=1, help="processes that plan these")
    asked = parser.parse_args()
    if asked.random is not None:
        kind = Kind(longest=asked.longest, effort="quick" if asked.quick else "normal")
        run(asked.state, asked.first, asked.random, kind, max(1, asked.jobs))
        return
    names = [n for n in asked.rows.split(",") if n]
    measure(names, asked.briefs, asked.longer, asked.seconds)


if __name__ == "__main__":
    main()
