"""Many random briefs, each planned and judged, one line a brief in a file; see `plan.py`.

The file is only ever added to, a whole line at a time, so that a run may be killed at any moment
and taken up again: what is there is not done twice, and a torn line counts as not there.
"""

from __future__ import annotations

import json
import os
import signal
import statistics
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from types import FrameType

from rondel.adapters.craft_files import builtin_craft
from rondel.checker.check import check
from rondel.model.brief import Brief
from rondel.model.finding import Severity
from rondel.model.repertoire import Craft
from rondel.planner.attempts import NORMAL, QUICK
from rondel.planner.plan import plan

sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from planner_briefs import random_brief

HERE = Path(__file__).parent

EVERY = 10  # briefs that are also planned quickly, as the reference
LONGEST_WAIT_SECONDS = 900
STOPS = (".", "!", "?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What makes lines comparable: the longest brief, and how hard is looked."""

    longest: int
    effort: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What came of one brief. `outcome` is planned, refused, crashed or late."""

    seed: int
    longest: int
    effort: str
    code: str
    outcome: str
    minutes: float
    cpu: float
    must: tuple[str, ...] = ()
    mind: tuple[str, ...] = ()
    cost: float | None = None
    status: str = ""
    reasons: tuple[str, ...] = ()
    loosen: int = 0
    error: str = ""
    quick_cpu: float | None = None
    quick_cost: float | None = None

    @property
    def is_told(self) -> bool:
        """True where a refusal gives its reasons in whole sentences."""
        return bool(self.reasons) and all(r.strip().endswith(STOPS) for r in self.reasons)


class Late(Exception):
    """A brief took longer than anyone would wait."""


@cache
def _craft() -> Craft:
    return builtin_craft()


def _ring(_signal: int, _frame: FrameType | None) -> None:
    raise Late(f"no answer within {LONGEST_WAIT_SECONDS} s")


def judged(seed: int, kind: Kind, code: str) -> Line:
    """Return the line of one random brief; whatever goes wrong becomes part of it."""
    brief = random_brief(seed, _craft(), longest=kind.longest)
    began = time.process_time()
    found: dict[str, object] = {}
    signal.signal(signal.SIGALRM, _ring)
    signal.alarm(LONGEST_WAIT_SECONDS)
    try:
        found = _planned(brief, kind, seed)
    except Late as error:
        found = {"outcome": "late", "error": str(error)}
    except Exception as error:
        found = {"outcome": "crashed", "error": f"{type(error).__name__}: {error}"}
    finally:
        signal.alarm(0)
    found.setdefault("cpu", time.process_time() - began)
    return Line(
        seed=seed,
        longest=kind.longest,
        effort=kind.effort,
        code=code,
        minutes=float(brief.minutes),
        **found,  # type: ignore[arg-type]
    )


def _planned(brief: Brief, kind: Kind, seed: int) -> dict[str, object]:
    craft = _craft()
    began = time.process_time()
    outcome = plan(brief, craft, effort=QUICK if kind.effort == "quick" else NORMAL)
    cpu = time.process_time() - began
    if outcome.routine is None:
        reasons, loosen = tuple(outcome.reasons), len(outcome.loosen)
        return {"outcome": "refused", "cpu": cpu, "reasons": reasons, "loosen": loosen}
    findings = check(outcome.routine, craft, brief)
    line: dict[str, object] = {
        "outcome": "planned",
        "cpu": cpu,
        "must": tuple(f"{f.rule}: {f.message}" for f in findings if f.severity is Severity.MUST),
        "mind": tuple(f.rule for f in findings if f.severity is Severity.MIND),
        "cost": outcome.routine.proof.objective,
        "status": outcome.routine.proof.status,
    }
    if seed % EVERY == 0 and kind.effort != "quick":
        began = time.process_time()
        quick = plan(brief, craft, effort=QUICK).routine
        line["quick_cpu"] = time.process_time() - began
        line["quick_cost"] = quick.proof.objective if quick else None
    return line


def read(state: Path, kind: Kind) -> dict[int, Line]:
    """Return the lines of `kind` in `state` by seed; torn lines are left out."""
    found: dict[int, Line] = {}
    if not state.exists():
        return found
    for text in state.read_bytes().split(b"\n"):
        try:
            data = json.loads(text)
            for name in ("must", "mind", "reasons"):
                data[name] = tuple(data[name])
            line = Line(**data)
        except (ValueError, TypeError, KeyError):
            continue  # torn as the run was killed; its brief is planned again
        if (line.longest, line.effort) == (kind.longest, kind.effort):
            found[line.seed] = line
    return found


def _whole(state: Path) -> bool:
    """True where the file ends with a whole line."""
    if not state.exists() or not state.stat().st_size:
        return True
    with state.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"


def add(state: Path, lines: Iterable[Line]) -> None:
    """Add every line to `state` as soon as it comes."""
    state.parent.mkdir(parents=True, exist_ok=True)
    torn = not _whole(state)
    with state.open("ab") as file:
        if torn:
            file.write(b"\n")
        for line in lines:
            file.write(json.dumps(asdict(line), ensure_ascii=False).encode() + b"\n")
            file.flush()
            os.fsync(file.fileno())


def _judge_all(seeds: list[int], kind: Kind, code: str, jobs: int) -> Iterator[Line]:
    if jobs == 1:
        yield from (judged(seed, kind, code) for seed in seeds)
        return
    with ProcessPoolExecutor(jobs) as pool:
        for done in as_completed([pool.submit(judged, seed, kind, code) for seed in seeds]):
            yield done.result()


def code_now() -> str:
    """Return which state of the code this is, or nothing where Git does not know."""
    command = ["git", "describe", "--always", "--dirty"]
    found = subprocess.run(command, cwd=HERE, capture_output=True, text=True, check=False)
    return found.stdout.strip()


def run(state: Path, first: int, count: int, kind: Kind, jobs: int) -> None:
    """Plan what is not there yet of `count` briefs from seed `first` on, then sum up."""
    wanted = range(first, first + count)
    have = read(state, kind)
    missing = [seed for seed in wanted if seed not in have]
    print(f"{count} briefs from seed {first}: {count - len(missing)} are there already", flush=True)
    add(state, _judge_all(missing, kind, code_now(), jobs))
    have = read(state, kind)
    print(summary([have[seed] for seed in wanted if seed in have]))


def _spread(values: list[float]) -> str:
    """Return median, 95th of a hundred and most, by the nearest rank."""
    ranked = sorted(values)
    worst = ranked[max(0, -(-95 * len(ranked) // 100) - 1)]
    return f"median {statistics.median(ranked):.2f}, p95 {worst:.2f}, max {ranked[-1]:.2f}"


def summary(lines: list[Line]) -> str:
    """Return the figures of `lines` as text."""
    by: dict[str, list[Line]] = {}
    for line in lines:
        by.setdefault(line.outcome, []).append(line)
    planned, refused = by.get("planned", []), by.get("refused", [])
    broken = [line for line in planned if line.must]
    told = [line for line in refused if line.is_told]
    untold = [line.seed for line in refused if not line.is_told]
    said = [
        f"briefs {len(lines)}: planned {len(planned)}, refused {len(refused)}, "
        f"crashed {len(by.get('crashed', []))}, late {len(by.get('late', []))}",
        f"plans that break a rule: {len(broken)}",
        *(f"  seed {line.seed}: {line.must[0]}" for line in broken[:20]),
        *(f"  seed {x.seed}: {x.error}" for x in [*by.get("crashed", []), *by.get("late", [])]),
        f"refusals that say why in sentences: {len(told)} of {len(refused)}"
        + (f"; not: seeds {untold[:20]}" if untold else "")
        + f"; with something to loosen: {sum(x.loosen > 0 for x in refused)}",
    ]
    spans = ((0, 15), (15, 30), (30, 60), (60, 120))
    for name, some in (("planned", planned), ("refused", refused)):
        if some:
            said.append(f"CPU s, {name}: {_spread([x.cpu for x in some])}")
        for low, high in spans:
            cpu = [x.cpu for x in some if low < x.minutes <= high]
            if cpu:
                said.append(f"  over {low} to {high} min ({len(cpu)}): {_spread(cpu)}")
    said += _against_quick(planned)
    minds = Counter(rule for line in planned for rule in line.mind)
    statuses = Counter(line.status for line in planned)
    said.append("proof: " + ", ".join(f"{k} {n}" for k, n in statuses.most_common()))
    said.append("strained: " + ", ".join(f"{k} {n}" for k, n in minds.most_common()))
    codes = Counter(line.code for line in lines)
    said.append("code: " + ", ".join(f"{k or 'unknown'} ({n})" for k, n in codes.most_common()))
    return "\n".join(said)


def _against_quick(planned: list[Line]) -> list[str]:
    """Return time and cost as ratios to those of the quick search, where both are there."""
    pairs = [
        (line.cpu / line.quick_cpu, line.cost / line.quick_cost)
        for line in planned
        if line.quick_cpu and line.quick_cost and line.cost is not None and line.quick_cost > 0
    ]
    if not pairs:
        return []
    longer, cost = (statistics.median(column) for column in zip(*pairs, strict=True))
    return [
        f"against the quick search on {len(pairs)} of them: {longer:.2f} of its time, "
        f"{cost:.2f} of its cost (medians)"
    ]
