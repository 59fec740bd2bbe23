"""`rondel grow ROUTINE --learned TECHNIQUE`: what a couple has learned comes into its routine."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.printing import print_json, print_list, print_notes, print_routine
from rondel.planner.grow import Grown

HELP = "bring a technique that a couple has learned into their routine, and leave the rest alone"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("routine", metavar="ROUTINE", type=Path, help="routine.json")
    parser.add_argument(
        "--learned",
        metavar="TECHNIQUE",
        nargs="+",
        required=True,
        help="what they have learned: ids or plain names of `rondel techniques`",
    )
    parser.add_argument("--brief", type=Path, help="its brief, where it does not carry one")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write the new routine here")
    parser.add_argument("--why", action="store_true", help="print the reasons of every passage")
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.session_folder import home_of
    from rondel.adapters.studio_files import craft_for, read_brief, read_routine
    from rondel.adapters.track_place import heard_otherwise, write_routine_of
    from rondel.app.grow_plan import grow_plan

    routine = read_routine(arguments.routine)
    craft = craft_for(arguments.routine)
    brief = read_brief(arguments.brief) if arguments.brief else None
    grown = grow_plan(routine, craft, arguments.learned, at=arguments.routine.name, brief=brief)
    new = grown.outcome.routine
    if new is not None and arguments.out:
        write_routine_of(arguments.brief or arguments.routine, arguments.out, new)
    if arguments.json:
        print_json(_as_json(grown))
    elif new is None:
        print("The routine stays as it is.\n")
        print_list(grown.outcome.reasons)
    else:
        print_routine(new, craft, with_reasons=arguments.why)
        print()
        print_list(grown.says)
        if arguments.out:
            print(f"\nWritten to {arguments.out}. Next: rondel make {arguments.out}")
    print_notes(heard_otherwise(routine, home_of(arguments.routine)), is_aside=arguments.json)
    return 0 if new is not None else 1


def _as_json(grown: Grown) -> dict[str, object]:
    from rondel.model.codec.routine import routine_to_dict

    routine = grown.outcome.routine
    if routine is None:
        return {"routine": None, "reasons": list(grown.outcome.reasons)}
    return {"routine": routine_to_dict(routine), "says": list(grown.says)}
