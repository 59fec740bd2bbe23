"""`rondel watch TAKE`: the strokes, slips and pauses in footage."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.printing import print_json, print_wrapped
from rondel.cli.progress_bar import Bars
from rondel.model.errors import BadInput

HELP = "find the strokes, slips and pauses in a take that was filmed"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("take", metavar="TAKE", type=Path, help="a film of any common kind")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--out", type=Path, metavar="DIR", help="keep what was seen in this folder")
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="draw what was seen, as .svg or .png"
    )


def run(arguments: argparse.Namespace) -> int:
    from rondel.drawing.seen_words import seen_sentences
    from rondel.model.codec.take import seen_to_dict
    from rondel.wiring_takes import draw_seen_to, watch_from_file

    picture: Path | None = arguments.picture
    if picture is not None and picture.suffix.lower() not in (".svg", ".png"):
        raise BadInput("a picture is .svg or .png", at=str(picture))
    with Bars() as progress:
        seen = watch_from_file(arguments.take, progress=progress, out=arguments.out)
    if picture is not None:
        draw_seen_to(picture, seen, arguments.take)
    if arguments.json:
        print_json(seen_to_dict(seen))
    else:
        print(arguments.take.name)
        for sentence in seen_sentences(seen):
            print_wrapped(sentence, indent="  ")
        if picture is not None:
            print(f"\nIts picture: {picture}")
    return 0 if seen.strokes else 1
