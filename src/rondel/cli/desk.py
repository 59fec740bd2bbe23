"""`rondel desk [STUDIO]`: the desk in the browser, served on this machine only."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "open your studio in the browser; nothing leaves this machine"

STUDIO = Path("studio")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "studio",
        metavar="STUDIO",
        type=Path,
        nargs="?",
        default=None,
        help="your studio's folder; where it is left out, the studio you are in, else a new one "
        "called “studio”",
    )
    parser.add_argument("--port", type=_port, default=0, metavar="N", help="else a free one")
    parser.add_argument("--no-browser", action="store_true", help="only print the address")


def _port(word: str) -> int:
    if not word.isdecimal() or int(word) > 65535:
        raise argparse.ArgumentTypeError(f"{word} must be a whole number from 0 to 65535")
    return int(word)


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.studio_files import studio_of
    from rondel.desk.opening import open_browser
    from rondel.desk.server import serve_desk

    studio = arguments.studio or studio_of(Path.cwd()) or STUDIO

    def ready(address: str, once: str) -> None:
        print(address, flush=True)
        print(f"Your studio {studio} is open. Ctrl-C closes the desk.", flush=True)
        if not arguments.no_browser:
            open_browser(once)

    serve_desk(studio, port=arguments.port, ready=ready)
    return 0
