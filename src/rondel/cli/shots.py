"""`rondel shots ROUTINE`: what to film, how long and how slow, as a page to print."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.printing import print_json, print_list
from rondel.model.errors import BadInput

HELP = "list what to film for a routine, how long and how slow, to print and tick off"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("routine", metavar="ROUTINE", type=Path, help="routine.json")
    parser.add_argument("--out", type=Path, metavar="FILE", help="a page to print, as .pdf")
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.atomic import write_bytes
    from rondel.adapters.studio_files import craft_for, read_routine
    from rondel.adapters.typesetting import TypstTypesetter
    from rondel.app.list_shots import shots_job
    from rondel.drawing import figure
    from rondel.drawing.shot_list import shot_sentences, shots_to_film

    out: Path | None = arguments.out
    if out is not None and out.suffix.lower() != ".pdf":
        raise BadInput("the page to print is a .pdf", at=str(out))
    routine = read_routine(arguments.routine)
    shots = shots_to_film(routine, craft_for(arguments.routine), figure.still)
    if out is not None:
        write_bytes(out, TypstTypesetter().typeset(shots_job(routine.title, shots)))
    if arguments.json:
        print_json(
            [
                {
                    "technique": shot.technique,
                    "where": shot.where,
                    "seconds": shot.seconds,
                    "stroke_seconds": shot.stroke_seconds,
                    "starts": list(shot.starts),
                }
                for shot in shots
            ]
        )
        return 0
    print_list(shot_sentences(shots))
    if out is not None:
        print(f"\nTo print: {out}")
    return 0
