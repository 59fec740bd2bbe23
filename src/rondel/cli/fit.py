"""`rondel fit ROUTINE TAKES…`: which takes show which passage, cut and retimed to the beat."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from rondel.cli.film import add_limits, limits_from
from rondel.cli.printing import print_json, print_list, print_wrapped
from rondel.cli.progress_bar import Bars

HELP = "fit takes to a routine: which of their strokes, how fast, and how near the beat they land"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("routine", metavar="ROUTINE", type=Path, help="routine.json")
    parser.add_argument(
        "takes",
        metavar="TAKE",
        type=Path,
        nargs="+",
        help="films in which `rondel watch` was told the technique, or a folder of them",
    )
    add_limits(parser)
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.studio_files import craft_for, read_routine
    from rondel.app.fit_takes import fit_takes, fitted_sentences, stranger_sentences
    from rondel.wiring_takes import watched_takes

    limits = limits_from(arguments)
    routine = read_routine(arguments.routine)
    takes_named = _takes(arguments.takes)
    with Bars() as progress:
        takes = watched_takes(_by_name(takes_named), progress=progress)
        fitted = fit_takes(routine, takes.named, progress=progress, limits=limits)
    left_out = (*takes.notes, *stranger_sentences(takes.named, routine))
    shown = [one for one in fitted.passages if one.shots]
    if arguments.json:
        print_json({**_as_json(fitted.passages, fitted.off_ms), "left_out": list(left_out)})
        return 0 if shown else 1
    print_list(fitted_sentences(fitted, routine, craft_for(arguments.routine)))
    if left_out:
        print("\nTo know:")
        print_list(left_out)
    if fitted.off_ms is not None:
        middle, worst = fitted.off_ms
        print_wrapped(
            f"\n{len(shown)} of {len(fitted.passages)} passages are filmed. By the strokes that "
            f"were seen, hands land {middle:.0f} ms from the beat, {worst:.0f} ms at worst."
        )
    return 0 if shown else 1


def _takes(paths: Sequence[Path]) -> list[Path]:
    """Return `paths` with the films of a folder in its place, each film once; raise BadInput where
    a folder has none."""
    from rondel.adapters.take_place import films_in
    from rondel.model.errors import BadInput

    found: dict[Path, Path] = {}
    for path in paths:
        films = films_in(path) if path.is_dir() else [path]
        if not films:
            raise BadInput("there is no film in this folder; name another one", at=str(path))
        for film in films:
            found.setdefault(film.resolve(), film)
    return list(found.values())


def _by_name(paths: Sequence[Path]) -> dict[str, Path]:
    """Return takes by name; of two with one name, in two folders, by their whole way."""
    names = [path.name for path in paths]
    return {path.name if names.count(path.name) == 1 else str(path): path for path in paths}


def _as_json(passages: object, off_ms: tuple[float, float] | None) -> dict[str, object]:
    from rondel.model.shots import FittedPassage

    assert isinstance(passages, tuple)
    rows: list[dict[str, object]] = []
    for one in passages:
        assert isinstance(one, FittedPassage)
        shots = [
            {
                "take": shot.take,
                "beats": [round(t, 4) for t in shot.beats],
                "landings": [round(t, 4) for t in shot.landings],
                "at": [round(t, 4) for t in shot.map.at],
                "shows": [round(t, 4) for t in shot.map.shows],
            }
            for shot in one.shots
        ]
        rows.append({"passage": one.passage, "shots": shots, "why_not": one.why_not or None})
    told = {"median_ms": round(off_ms[0], 2), "worst_ms": round(off_ms[1], 2)} if off_ms else {}
    return {"passages": rows, **told}
