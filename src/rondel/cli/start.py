"""`rondel start DIR`: a new studio."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "make a new studio folder, with the built-in repertoire and the demo routine"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("dir", metavar="DIR", type=Path, help="a new or empty folder")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.studio_files import start_studio

    brief = start_studio(arguments.dir)
    print(f"Your studio is ready: {arguments.dir}")
    print(f"The techniques you teach: {arguments.dir / 'repertoire'}")
    print(f"Next, make its first session: rondel make {brief}")
    return 0
