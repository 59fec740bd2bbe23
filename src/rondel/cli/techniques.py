"""`rondel techniques`: what may be done with the hands, and how."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.printing import print_json, print_wrapped
from rondel.model.words import CONTACT_NAME, TRADE_NAME

HELP = "print the techniques of a studio, or the built-in ones"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "studio", metavar="STUDIO", type=Path, nargs="?", help="a studio folder; else built-in"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.craft_files import builtin_craft
    from rondel.adapters.studio_files import craft_for
    from rondel.model.codec.craft import technique_to_dict
    from rondel.model.errors import BadInput

    studio: Path | None = arguments.studio
    if studio is not None and not (studio / "studio.toml").is_file():
        raise BadInput("this is no studio: there is no studio.toml in it", at=str(studio))
    craft = builtin_craft() if studio is None else craft_for(studio)
    if arguments.json:
        print_json([technique_to_dict(t) for t in craft.techniques])
        return 0
    for region in craft.regions:
        here = [t for t in craft.techniques if t.region == region.id]
        if here:
            print(f"{region.name} [{region.id}]")
        for t in here:
            low, high = t.pressure
            facts = f"{TRADE_NAME[t.family]}, {CONTACT_NAME[t.contact]}, pressure {low} to {high}"
            print_wrapped(
                f"{t.plain} [{t.id}]: {facts}, level {t.level}; {', '.join(t.position)}.",
                indent=" " * 8,
                first="    ",
            )
    return 0
