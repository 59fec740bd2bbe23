"""How answers are printed: JSON for programs, plain lines for people."""

from __future__ import annotations

import json
import shutil
import sys
import textwrap
from collections.abc import Iterable

from rondel.model.names import SIDE_SAYS, lying_says, names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.time import as_minutes
from rondel.model.words import PRESSURE_SAYS


def print_json(data: object) -> None:
    """Print `data` as JSON with a fixed layout."""
    json.dump(data, sys.stdout, ensure_ascii=False, indent=1)
    sys.stdout.write("\n")


def width() -> int:
    """Return how wide lines may be: the terminal's width, at most 96 characters."""
    return min(shutil.get_terminal_size((96, 24)).columns, 96)


def print_wrapped(text: str, *, indent: str = "", first: str | None = None) -> None:
    """Print `text` in lines that fit, each after `indent` (the first after `first`)."""
    start = indent if first is None else first
    print(textwrap.fill(text, width(), initial_indent=start, subsequent_indent=indent))


def print_list(items: Iterable[str]) -> None:
    for item in items:
        print_wrapped(item, indent="    ", first="  – ")


def print_routine(routine: Routine, craft: Craft, *, with_reasons: bool = False) -> None:
    """Print the page in text: a line a passage, the refrain indented less than the rest."""
    names = names_shown(routine)
    total = as_minutes(routine.clock.total_seconds)
    bpm = float(routine.tempo[0].bpm)
    print(f"{routine.title} · {total} · {routine.bars} bars at {bpm:g} beats a minute\n")
    lying = ""
    for passage in routine.passages:
        if passage.position != lying:
            lying = passage.position
            print(f"         ({lying_says(passage.position)})")
        start = as_minutes(routine.start_seconds(passage))
        margin = "~ " if passage.role == "refrain" else "  "
        facts = f"{SIDE_SAYS[passage.side]}, {PRESSURE_SAYS[passage.pressure]}"
        if passage.is_open:
            facts = "left free for your own"
        seconds = round(routine.seconds_of(passage))
        facts += "; may be skipped" if passage.stretch else ""
        name = passage_name(passage, craft, names)
        print(f"{start:>6} {margin}{name:<28} {passage.role:<8} {seconds:>3} s  {facts}")
        if with_reasons:
            for why in passage.why:
                print_wrapped(why, indent=" " * 9)
    print("\n  ~ marks the refrain.")
