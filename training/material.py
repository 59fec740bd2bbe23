"""Which public music the network is trained on: no work of the tuning or test sets is in it."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from corpora.scores import NoTune, sounding_of, stretches, tune_of
from corpora.tunes import Tune

SPLIT = Path(__file__).resolve().parents[1] / "benchmarks" / "corpora" / "split.json"

#: Folder or file of music21's corpus, how many files are drawn from it, and how often, against
#: the other sources, an example is made of it. Works for several instruments weigh more than their
#: number: melodies are easy to have, and a network that hears little else mishears the others.
SOURCES = (
    ("ryansMammoth", 350, 6.0),
    ("bach", 150, 5.0),
    ("palestrina", 50, 1.5),
    ("monteverdi", 30, 1.5),
    ("trecento", 30, 1.0),
    ("josquin", 8, 0.5),
    ("oneills1850", 39, 2.0),
    ("airdsAirs", 6, 1.0),
    ("essenFolksong", 14, 2.0),
    ("nottingham-dataset", 1, 1.5),
    ("beethoven/opus18no3.mxl", 1, 1.2),
    ("beethoven/opus18no4.mxl", 1, 1.2),
    ("beethoven/opus18no5.mxl", 1, 1.2),
    ("beethoven/opus59no1", 4, 1.6),
    ("beethoven/opus59no3", 4, 1.6),
    ("beethoven/opus74.mxl", 1, 1.2),
    ("beethoven/opus132.mxl", 1, 1.2),
    ("beethoven/opus133.mxl", 1, 0.6),
    ("schumann_clara/opus17", 1, 1.0),
    ("handel", 1, 0.4),
)
SUFFIXES = {".abc", ".mxl", ".xml", ".krn", ".musicxml"}
FROM_ONE_FILE = 40  # of the tunes of a collection
MOST_STRETCHES = 12  # of one score, each in one time signature


def training_files(base: Path) -> list[tuple[Path, int]]:
    """Return (file, place in SOURCES) of the corpus at `base`, less all that is held back.

    A work is held back in any format and edition; other movements of it are in no source.
    """
    split = json.loads(SPLIT.read_text(encoding="utf-8"))["M"]
    held = {_work(Path(name)) for part in ("tuning", "test") for name in split[part]}
    chosen: list[tuple[Path, int]] = []
    for number, (source, count, _) in enumerate(SOURCES):
        place = base / source
        files = [place] if place.is_file() else sorted(place.rglob("*"))
        free = [f for f in files if f.suffix in SUFFIXES and _work(f.relative_to(base)) not in held]
        random.Random(number).shuffle(free)
        chosen.extend((path, number) for path in free[:count])
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
        sounding = sounding_of(score)
        for first in stretches(score)[:MOST_STRETCHES]:
            try:
                yield tune_of(score, f"{name}#{number}.{first}", first, sounding)
            except (NoTune, ZeroDivisionError, IndexError, AttributeError):
                continue


def _work(path: Path) -> str:
    """Name a work without its format or edition, so that no copy of it slips in."""
    return f"{path.parent}/{path.name.split('.mxl')[0].split('.krn')[0].split('-sc')[0]}"


def save_tunes(tunes: list[Tune], sources: list[int], out: Path) -> None:
    """Write tunes, and for each its place in SOURCES, as one small file."""
    np.savez_compressed(
        out,
        notes=np.concatenate([tune.notes for tune in tunes]).astype(np.float32),
        counts=np.array([len(tune.notes) for tune in tunes]),
        bars=np.array([tune.beats_per_bar for tune in tunes]),
        metres=np.array([tune.metre for tune in tunes]),
        names=np.array([tune.name for tune in tunes]),
        sources=np.array(sources),
    )


def read_tunes(path: Path) -> tuple[list[Tune], list[int]]:
    """Return the tunes of a file that `save_tunes` wrote, and their places in SOURCES."""
    with np.load(path) as held:
        pasts = np.cumsum(held["counts"])
        notes = held["notes"].astype(np.float64)
        rows = zip(pasts, held["counts"], held["bars"], held["metres"], held["names"], strict=True)
        tunes = [
            Tune(
                name=str(name),
                notes=notes[past - count : past],
                beats_per_bar=int(per_bar),
                first_bar=0,
                metre=str(metre),
            )
            for past, count, per_bar, metre, name in rows
        ]
        return tunes, held["sources"].tolist()
