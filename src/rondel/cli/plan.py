"""`rondel plan BRIEF`: a routine, or sentences that say why there is none."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from rondel.cli import levels
from rondel.cli.printing import (
    print_after_page,
    print_findings,
    print_json,
    print_list,
    print_routine,
    print_wrapped,
)
from rondel.cli.refusal import say_why_not
from rondel.model.brief import Brief
from rondel.model.errors import BadInput
from rondel.model.finding import Outcome
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine

HELP = "plan a routine from a brief, or say why no routine can meet it"

#: More plans, or more time, nobody waits for.
MOST_OTHERS, MOST_SECONDS = 20, 3600
FAR = 15  # percent further from the wishes; another plan should be nearer
LONG_MINUTES = 25  # plans for longer forms are waited for


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("brief", metavar="BRIEF", type=Path, help="brief.toml")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write the routine to this file")
    parser.add_argument(
        "--near", type=Path, metavar="ROUTINE", help="stay as near as possible to this routine"
    )
    parser.add_argument(
        "--others", type=_count, default=0, metavar="N", help="also give N clearly different plans"
    )
    parser.add_argument(
        "--within",
        type=_seconds,
        metavar="SECONDS",
        help="how long the search may take, about; more time looks at more plans",
    )
    parser.add_argument(
        "--levels",
        type=levels.levels,
        metavar="1,2,3",
        help="plan a family, one routine a level, in which a couple recognises its own",
    )
    parser.add_argument(
        "--filmed",
        action="store_true",
        help="rather use what the takes show that lie in `takes` beside BRIEF, or in its studio",
    )
    parser.add_argument("--why", action="store_true", help="print the reasons of every passage")
    parser.add_argument("--json", action="store_true", help="print JSON")


def _count(word: str) -> int:
    if not word.isdecimal() or int(word) > MOST_OTHERS:
        raise argparse.ArgumentTypeError(f"{word} must be a whole number from 0 to {MOST_OTHERS}")
    return int(word)


def _seconds(word: str) -> float:
    try:
        seconds = float(word)
    except ValueError:
        seconds = -1.0
    if not 0 < seconds <= MOST_SECONDS:
        raise argparse.ArgumentTypeError(f"{word} must be a number of seconds up to {MOST_SECONDS}")
    return seconds


def _say_that_it_takes_time(brief: Brief) -> None:
    """Tell someone who waits at a terminal what is going on."""
    if sys.stderr.isatty():
        long = brief.minutes > LONG_MINUTES
        wait = "this may take a minute" if long else "a few seconds"
        print(f"Looking for a plan: {wait} …", file=sys.stderr)


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.planning_crew import planning_crew
    from rondel.adapters.studio_files import craft_for, read_routine, require_free_for_routine
    from rondel.adapters.take_names import rather_filmed
    from rondel.adapters.track_place import write_routine_of
    from rondel.app.make_plan import make_others, make_plan, percent_shared
    from rondel.checker.check import check
    from rondel.cli.progress_bar import Bars
    from rondel.planner.moved import what_moved
    from rondel.planner.wishes import require_known
    from rondel.wiring_tracks import read_brief_and_track

    if arguments.levels:
        return levels.run(arguments)
    if arguments.filmed and arguments.near:
        says = "this does not go with --near, which leaves all it can as it was"
        raise BadInput(says, at="--filmed")
    if arguments.out:
        require_free_for_routine(arguments.out)
    with Bars() as progress:
        brief, heard = read_brief_and_track(arguments.brief, progress=progress)
    craft = craft_for(arguments.brief)
    if arguments.filmed:
        brief = rather_filmed(brief, arguments.brief, craft)
    require_known(brief, craft, at=arguments.brief.name)
    near = read_routine(arguments.near) if arguments.near else None
    _say_that_it_takes_time(brief)
    outcome = make_plan(
        brief,
        craft,
        near=near,
        within_seconds=arguments.within,
        heard=heard,
        crew=planning_crew,
    )
    if outcome.routine is None:
        return say_why_not(outcome, as_json=arguments.json)
    others: tuple[Routine, ...] = ()
    if arguments.others > 0:
        wished = outcome.routine.brief or brief  # with its track laid out
        others = make_others(wished, craft, outcome.routine, count=arguments.others)
    if arguments.out:
        write_routine_of(arguments.brief, arguments.out, outcome.routine)
        for number, other in enumerate(others, start=2):
            name = f"{arguments.out.stem}-{number}{arguments.out.suffix}"
            write_routine_of(arguments.brief, arguments.out.with_name(name), other)
    moved = what_moved(near, outcome.routine, craft) if near else ()
    if arguments.json:
        print_json(_as_json(outcome, others, moved))
        return 0
    print_routine(outcome.routine, craft, with_reasons=arguments.why)
    print_after_page(outcome.routine, craft, outcome.mattered)
    print_findings(check(outcome.routine, craft, outcome.routine.brief))
    if near:
        print(f"\nWhat moved, against {arguments.near}:\n")
        print_list(moved)
    for number, other in enumerate(others, start=2):
        alike = f"{percent_shared(outcome.routine, other)} percent of the time is as in the first"
        print()
        print_wrapped(
            f"Another way, number {number}: {alike}{_further(outcome.routine, other, craft)}."
        )
        print()
        print_routine(other, craft, with_reasons=arguments.why)
    if len(others) < arguments.others:
        print_wrapped(f"Only {len(others)} clearly different plans were found.")
    if arguments.out:
        print(f"Written to {arguments.out}. Next: rondel make {arguments.out}")
    return 0


def _further(best: Routine, other: Routine, craft: Craft) -> str:
    """Return in words how much more `other` costs than `best`, or less; "" where it is about as
    good."""
    from rondel.app.make_plan import percent_further

    percent = percent_further(best, other, craft)
    where = "further from" if percent > 0 else "nearer to"
    far = "; nothing as different was found nearer" if percent > FAR else ""
    return f", {abs(percent)} percent {where} your wishes{far}" if percent else ""


def _as_json(
    outcome: Outcome, others: tuple[Routine, ...], moved: tuple[str, ...]
) -> dict[str, object]:
    from rondel.model.codec.routine import routine_to_dict

    assert outcome.routine is not None
    data: dict[str, object] = {
        "routine": routine_to_dict(outcome.routine),
        "mattered": list(outcome.mattered),
    }
    if moved:
        data["moved"] = list(moved)
    if others:
        data["others"] = [routine_to_dict(r) for r in others]
    return data
