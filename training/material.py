"""Which public music the network is trained on: no work of the tuning or test sets is in it."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from corpora.scores import NoTune, tune_of
from corpora.tunes import Tune

SPLIT = Path(__file__).resolve().parents[1] / "benchmarks" / "corpora" / "split.json"

#: Folder or file of music21's corpus, and how many files are drawn from it.
SOURCES = (
    ("ryansMammoth", 400),
    ("bach", 120),
    ("palestrina", 40),
    ("monteverdi", 30),
    ("oneills1850", 39),
    ("airdsAirs", 6),
    ("essenFolksong", 12),
    ("beethoven/opus18no3.mxl", 1),
    ("beethoven/opus18no5.mxl", 1),
    ("beethoven/opus59no1", 4),
    ("beethoven/opus59no3", 4),
    ("beethoven/opus74.mxl", 1),
    ("beethoven/opus132.mxl", 1),
)
SUFFIXES = {".abc", ".mxl", ".xml", ".krn", ".musicxml"}
FROM_ONE_FILE = 40  # of the tunes of a collection


def training_files(base: Path) -> list[Path]:
    """Return files of the corpus at `base`, less all that is held back, in any format."""
    split = json.loads(SPLIT.read_text(encoding="utf-8"))["M"]
    held = {_work(Path(name)) for part in ("tuning", "test") for name in split[part]}
    chosen: list[Path] = []
    for number, (source, count) in enumerate(SOURCES):
        place = base / source
        files = [place] if place.is_file() else sorted(place.rglob("*"))
        free = [f for f in files if f.suffix in SUFFIXES and _work(f.relative_to(base)) not in held]
        random.Random(number).shuffle(free)
        chosen.extend(free[:count])
    return chosen


def tunes_in(path: Path) -> list[Tune]:
    """Return the tunes of one file that can be counted evenly."""
    from music21 import converter

    return list(_counted(_scores(converter.parse(path)), path.name))


def _scores(parsed: Any) -> list[Any]:
    scores = list(getattr(parsed, "scores", None) or [parsed])
    if len(scores) > FROM_ONE_FILE:
        scores = random.Random(len(scores)).sample(scores, FROM_ONE_FILE)
    return scores


def _counted(scores: list[Any], name: str) -> Iterator[Tune]:
    for number, score in enumerate(scores):
        try:
            yield tune_of(score, f"{name}#{number}")
        except (NoTune, ZeroDivisionError, IndexError):
            continue


def _work(path: Path) -> str:
    """Name a work without its format or edition, so that no copy of it slips in."""
    return f"{path.parent}/{path.name.split('.mxl')[0].split('.krn')[0].split('-sc')[0]}"
