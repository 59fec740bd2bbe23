"""`rondel hands ROUTINE [OTHER]`: which parts of the giver's hands carry how much."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.printing import print_json, print_wrapped
from rondel.hands.load import HandLoad
from rondel.hands.saying import ABOUT, beside, in_words, name_of

HELP = "tell which parts of the giver's hands carry how much in a routine, or in two"

_BAR_CELLS = 30  # of a share of one


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("routine", metavar="ROUTINE", type=Path, help="routine.json")
    parser.add_argument(
        "other", metavar="OTHER", type=Path, nargs="?", help="another routine to set beside it"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.studio_files import craft_for, read_routine
    from rondel.hands.load import hand_load

    paths = [p for p in (arguments.routine, arguments.other) if p is not None]
    routines = [read_routine(path) for path in paths]
    loads = [hand_load(r, craft_for(p)) for r, p in zip(routines, paths, strict=True)]
    if arguments.json:
        print_json([_as_json(load) for load in loads])
        return 0
    print(f"{routines[0].title}: what each part of your hands carries, in shares of the whole\n")
    _print_bars(*loads)
    print()
    says = in_words(loads[0]) if len(loads) == 1 else beside(*loads)
    for sentence in (*says, *ABOUT):
        print_wrapped(sentence)
    return 0


def _print_bars(load: HandLoad, other: HandLoad | None = None) -> None:
    contacts = [c for c, _ in load.shares()]
    contacts += [c for c, _ in other.shares() if c not in contacts] if other else []
    for contact in contacts:
        share = load.share(contact=contact)
        line = f"  {name_of(contact):<20}{share:>5.0%}  "
        print(f"{line}{'■' * round(share * _BAR_CELLS)}".rstrip())
        if other:
            share = other.share(contact=contact)
            line = f"  {'    in the other':<20}{share:>5.0%}  "
            print(f"{line}{'□' * round(share * _BAR_CELLS)}".rstrip())


def _as_json(load: HandLoad) -> dict[str, object]:
    """Return shares only: the sums behind them mean nothing by themselves."""
    return {
        "contacts": {str(contact): round(share, 4) for contact, share in load.shares()},
        "hands": [
            {
                "hand": str(p.hand),
                "contact": str(p.contact),
                "share": round(load.share(hand=p.hand, contact=p.contact), 4),
                "minutes": round(p.minutes, 3),
            }
            for p in load.parts
        ],
        "unknown_minutes": round(load.unknown_minutes, 3),
        "about": list(ABOUT),
    }
