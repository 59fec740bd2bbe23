"""`rondel cautions`: what may be named in a brief, and what it takes away."""

from __future__ import annotations

import argparse

from rondel.cli.printing import print_json, print_wrapped

HELP = "print the cautions a brief may name, and what each takes away"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.craft_files import builtin_craft
    from rondel.model.codec.craft import caution_to_dict

    craft = builtin_craft()
    if arguments.json:
        print_json([caution_to_dict(c) for c in craft.cautions])
        return 0
    for caution in craft.cautions:
        print(f"{caution.name} [{caution.id}]")
        print_wrapped(caution.says, indent="    ")
        print_wrapped(f"Source: {caution.source}", indent="    ")
        print()
    print_wrapped(
        "This is no medical advice. Where you are not sure, ask a clinician; where local rules say "
        "more, they come first."
    )
    return 0
