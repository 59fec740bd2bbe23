"""`rondel change ROUTINE WHAT PASSAGE`: second thoughts about one passage."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from rondel.cli.printing import print_json, print_list, print_notes, print_routine, print_wrapped
from rondel.model.errors import BadInput
from rondel.model.names import technique_called
from rondel.model.repertoire import Craft

if TYPE_CHECKING:
    from rondel.app.change_plan import Changed
    from rondel.model.routine import Routine

HELP = "change one passage of a routine, plan the rest as near as possible, and say what moved"

#: What may be done to a passage, and what TO then means.
KINDS = {
    "lengthen": "by TO seconds on each side (a quarter of a minute where TO is left out)",
    "shorten": "by TO seconds on each side (a quarter of a minute where TO is left out)",
    "move": "to start at TO, as in 9:30",
    "swap": "do the technique TO in its place: its id, or what it is called",
    "side": "begin on TO, left or right (the other side where TO is left out)",
    "pressure": "do it at pressure TO, 0 to 5",
    "keep": "insist on it as it is",
    "free": "insist on it no longer; bars left free are planned again",
    "open": "leave its bars free",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    kinds = "\n".join(f"  {name:<9} {says}" for name, says in KINDS.items())
    parser.epilog = f"WHAT is one of:\n{kinds}\n\nThe file itself is left alone without --out."
    parser.add_argument("routine", metavar="ROUTINE", type=Path, help="routine.json")
    parser.add_argument("what", metavar="WHAT", choices=tuple(KINDS), help="see below")
    parser.add_argument(
        "passage", metavar="PASSAGE", help="a time within it, as in 4:30, or its id, as in p07"
    )
    parser.add_argument("to", metavar="TO", nargs="?", help="how long, when, or what: see below")
    parser.add_argument("--out", type=Path, metavar="FILE", help="write the routine to this file")
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.session_folder import home_of
    from rondel.adapters.studio_files import craft_for, read_routine
    from rondel.adapters.track_place import heard_otherwise, write_routine_of
    from rondel.app.change_plan import change_plan
    from rondel.app.edit_words import edit_of

    craft = craft_for(arguments.routine)
    routine = read_routine(arguments.routine)
    to = arguments.to
    if arguments.what == "swap" and to is not None:
        called = technique_called(to, craft)
        to = to if called is None else called.id
    edit = edit_of(arguments.what, _passage(routine, arguments.passage), to)
    changed = change_plan(routine, edit, craft)
    new = changed.outcome.routine
    if new is not None and arguments.out:
        write_routine_of(arguments.routine, arguments.out, new)
    if arguments.json:
        print_json(_as_json(changed))
    elif new is None:
        _say_why_not(changed)
    else:
        print_routine(new, craft)
        print()
        _say_what_was_broken(new, craft, arguments.routine)
        print_list(changed.moved)
        if arguments.out:
            print(f"\nWritten to {arguments.out}. Next: rondel make {arguments.out}")
        else:
            print("\nNothing is written; `--out FILE` keeps it.")
    print_notes(heard_otherwise(routine, home_of(arguments.routine)), is_aside=arguments.json)
    return 1 if new is None else 0


def _say_what_was_broken(routine: Routine, craft: Craft, path: Path) -> None:
    """Tell of rules that the routine breaks: they were broken before, as no edit breaks any."""
    from rondel.checker.check import check
    from rondel.model.finding import Severity

    broken = [f for f in check(routine, craft) if f.severity is Severity.MUST]
    if broken:
        print_wrapped(
            f"This routine breaks a rule that must be kept: {broken[0].message} "
            f"`rondel check {path}` tells of all."
        )
        print()


def _passage(routine: Routine, word: str) -> str:
    """Return the id of the passage named by its id, or by a time within it."""
    from rondel.app.change_plan import passage_at
    from rondel.app.edit_words import is_clock, seconds_of
    from rondel.model.time import as_minutes

    if not is_clock(word):
        return word
    seconds = float(seconds_of(word))
    if seconds >= routine.clock.total_seconds:
        ends = as_minutes(routine.clock.total_seconds)
        raise BadInput(f"the routine ends at {ends}; name a time before that", at=word)
    return passage_at(routine, seconds).id


def _say_why_not(changed: Changed) -> None:
    print("This change was not made.\n")
    print_list(changed.outcome.reasons)
    if changed.offers:
        print("\nThis was tried instead, and can be done:\n")
        print_list(offer.says for offer in changed.offers)


def _as_json(changed: Changed) -> dict[str, object]:
    from rondel.model.codec.outcome import refusal_to_dict
    from rondel.model.codec.routine import routine_to_dict

    outcome = changed.outcome
    if outcome.routine is None:
        return {**refusal_to_dict(outcome), "offers": [offer.says for offer in changed.offers]}
    return {
        "routine": routine_to_dict(outcome.routine),
        "moved": list(changed.moved),
        "asked_bars": changed.asked_bars,
        "changed_bars": changed.changed_bars,
    }
