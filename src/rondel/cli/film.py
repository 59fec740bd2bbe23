"""What may be asked of film: the options that `rondel fit` and `rondel make` share."""

from __future__ import annotations

import argparse

from rondel.cli.put_in import typed
from rondel.drawing.frames.shapes import Shape
from rondel.fitting.asked import limits_asked
from rondel.fitting.choosing import Limits
from rondel.model.errors import BadInput


def add_limits(parser: argparse.ArgumentParser) -> None:
    """Add how takes may be used."""
    group = parser.add_argument_group("takes")
    usual = Limits()
    group.add_argument(
        "--speeds",
        metavar="SLOWEST-FASTEST",
        default=f"{usual.slowest}-{usual.fastest}",
        help="how slow and how fast takes may be played; %(default)s where nobody says",
    )
    group.add_argument(
        "--shortest-shot",
        metavar="SECONDS",
        type=typed(_seconds),
        default=usual.shortest_shot,
        help="no shot is shorter; 4 seconds where nobody says",
    )
    group.add_argument(
        "--mirror",
        action="store_true",
        help="a take of one side also stands for the other, as in a mirror",
    )
    group.add_argument(
        "--show-slips", action="store_true", help="slips may be seen, to show that they are nothing"
    )


def _seconds(word: str) -> float:
    try:
        return float(word)
    except ValueError:
        raise ValueError("must be a number of seconds, as in 4 or 2.5") from None


def limits_from(arguments: argparse.Namespace) -> Limits:
    """Return what was asked; BadInput for what cannot be."""
    return limits_asked(
        _speeds(arguments.speeds),
        arguments.shortest_shot,
        mirrors=arguments.mirror,
        shows_slips=arguments.show_slips,
        names=("--speeds", "--shortest-shot"),
    )


def _speeds(words: str) -> tuple[float, float]:
    try:
        slowest, fastest = (float(word) for word in words.split("-"))
    except ValueError:
        raise BadInput(f'"{words}" is not two numbers, as in 0.6-1.4', at="--speeds") from None
    return slowest, fastest


def shapes_from(words: str) -> tuple[Shape, ...]:
    """Return the shapes named with --shape, as in "wide,tall"; BadInput for one not known."""
    names = [word.strip() for word in words.split(",") if word.strip()]
    known = [str(shape) for shape in Shape]
    for name in names:
        if name not in known:
            allowed = ", ".join(known)
            raise BadInput(f'"{name}" is not a shape; allowed are {allowed}', at="--shape")
    if not names:
        raise BadInput(f"name at least one of {', '.join(known)}", at="--shape")
    return tuple(Shape(name) for name in dict.fromkeys(names))
