"""`rondel regions`: the parts of the body, their limits and sites of care."""

from __future__ import annotations

import argparse

from rondel.cli.printing import print_json, print_wrapped

HELP = "print the regions of the body with their pressure limits and sites of care"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.craft_files import builtin_craft
    from rondel.model.codec.craft import region_to_dict

    craft = builtin_craft()
    if arguments.json:
        print_json([region_to_dict(r) for r in craft.regions])
        return 0
    for region in craft.regions:
        print(f"{region.name} [{region.id}]")
        limits = f"Pressure at most {region.limit}; a trained hand {region.trained_limit}."
        print_wrapped(limits, indent="    ")
        near = ", ".join(craft.region(n).name for n in region.neighbours)
        print_wrapped(f"Next to: {near}.", indent="    ")
        for care in region.care:
            print_wrapped(care, indent="    ")
        print_wrapped(f"Source: {region.source}", indent="    ")
        print()
    return 0
