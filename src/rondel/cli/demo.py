"""`rondel demo`: the whole job on the built-in demo."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.make import report
from rondel.cli.progress_bar import Bars

HELP = "do the whole job on the built-in demo: a quarter of an hour to settle"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--out", type=Path, default=Path("lamplight"), metavar="DIR", help="the session folder"
    )
    parser.add_argument("--quick", action="store_true", help="a small, quick video to look at")
    parser.add_argument("--json", action="store_true", help="print what was made as JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.wiring import make_demo

    with Bars() as progress:
        made = make_demo(out=arguments.out, quick=arguments.quick, progress=progress)
    return report(made, as_json=arguments.json)
