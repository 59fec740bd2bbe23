"""`rondel make ROUTINE|BRIEF`: the session folder."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rondel.cli.film import add_limits, limits_from, shapes_from
from rondel.cli.printing import print_json, print_list, print_wrapped
from rondel.cli.progress_bar import Bars
from rondel.model.errors import BadInput, RondelError

if TYPE_CHECKING:
    from rondel.app.make_session import Made

HELP = "make the session: video, audio, captions, page, cards, follow-along page"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "sources",
        metavar="ROUTINE|BRIEF",
        type=Path,
        nargs="+",
        help="routine or brief; of several a session each is made, one after the other",
    )
    parser.add_argument(
        "--out",
        type=Path,
        metavar="DIR",
        help="the session folder; of several sources the folder in which theirs lie",
    )
    parser.add_argument(
        "--only",
        metavar="PARTS",
        help="only these parts, as in audio,video,words,page,cards,follow",
    )
    parser.add_argument("--quick", action="store_true", help="a small, quick video to look at")
    parser.add_argument(
        "--soundfont", type=Path, metavar="FILE", help="play the piano from this SoundFont"
    )
    parser.add_argument(
        "--loudness",
        metavar="NAME",
        default="session",
        help="how loud the session stands: session (-16 LUFS), speech (-18), broadcast (-23), "
        "broadcast-us (-24)",
    )
    parser.add_argument(
        "--beat-marks",
        action="store_true",
        help="a soft tick on every beat that is heard in a brought track",
    )
    parser.add_argument(
        "--shape",
        metavar="SHAPES",
        default="wide",
        help="shapes of the video, as in wide,tall,square; wide where nobody says",
    )
    parser.add_argument(
        "--fill", action="store_true", help="cut takes to fill the frame, instead of showing all"
    )
    parser.add_argument("--drawn", action="store_true", help="leave takes out: all is drawn")
    add_limits(parser)
    parser.add_argument("--json", action="store_true", help="print what was made as JSON")


def run(arguments: argparse.Namespace) -> int:
    sources: list[Path] = arguments.sources
    if len(sources) == 1:
        made = _make(arguments, sources[0], arguments.out or default_out(sources[0]))
        return report(made, as_json=arguments.json)
    return _run_all(arguments, outs_of(sources, arguments.out))


def _run_all(arguments: argparse.Namespace, outs: dict[Path, Path]) -> int:
    """Make a session of every source; one that cannot be made is told, and stops no other."""
    worst = 0
    told: list[dict[str, object]] = []
    for number, (source, out) in enumerate(outs.items(), start=1):
        print(f"{number} of {len(outs)}: {source}", file=sys.stderr, flush=True)
        try:
            made = _make(arguments, source, out)
        except RondelError as error:
            print(f"rondel: {error}", file=sys.stderr)
            told.append({"source": str(source), "error": str(error)})
            worst = max(worst, error.exit_code)
            continue
        if arguments.json:
            told.append({"source": str(source), **_as_dict(made)})
            worst = max(worst, 0 if made.outcome.routine else 1)
        else:
            worst = max(worst, report(made, as_json=False))
    if arguments.json:
        print_json(told)
    return worst


def _as_dict(made: Made) -> dict[str, object]:
    """Return what was made as plain JSON data; without a routine, the reasons."""
    if made.outcome.routine is not None:
        return made.as_dict()
    return {"routine": None, "reasons": list(made.outcome.reasons)}


def outs_of(sources: Sequence[Path], out: Path | None) -> dict[Path, Path]:
    """Return the session folder of every source: no two share one.

    In `out`, where it is given, by the name of the source, or of its folder where the file is
    called as every brief is; else beside the source.
    """
    found: dict[Path, Path] = {}
    for source in sources:
        usual = default_out(source)
        is_plain = source.stem in ("brief", "routine")
        name = source.resolve().parent.name if is_plain else source.stem
        folder = out / name if out is not None else usual
        if folder in found.values() and out is None:
            folder = usual.with_name(f"session-{source.stem}")
        taken = next((one for one, other in found.items() if other == folder), None)
        if taken is not None:
            raise BadInput(
                f"its session would lie in {folder}, where that of {taken} does; make them one by "
                "one, each with an --out of its own",
                at=str(source),
            )
        found[source] = folder
    return found


def _make(arguments: argparse.Namespace, source: Path, out: Path) -> Made:
    from rondel.wiring import FilmAsked, SoundAsked, make_from_file, parts_from

    only = parts_from(arguments.only)
    film = FilmAsked(
        shapes=shapes_from(arguments.shape),
        limits=limits_from(arguments),
        fills=arguments.fill,
        is_drawn=arguments.drawn,
    )
    with Bars() as progress:
        return make_from_file(
            source,
            out=out,
            only=only,
            quick=arguments.quick,
            progress=progress,
            asked=SoundAsked(
                soundfont=arguments.soundfont,
                loudness=arguments.loudness,
                has_beat_marks=arguments.beat_marks,
            ),
            film=film,
        )


def default_out(source: Path) -> Path:
    """Return where the session goes when nobody says: the folder `session` beside the source.

    A routine that lies in a session already is made there.
    """
    from rondel.adapters.session_folder import is_session

    if not source.exists():
        raise BadInput("there is no such file; check the name and the folder", at=str(source))
    return source.parent if is_session(source.parent) else source.parent / "session"


def report(made: Made, *, as_json: bool) -> int:
    """Print what was made, and return the exit code."""
    from rondel.cli.refusal import say_why_not

    if made.outcome.routine is None:
        return say_why_not(made.outcome, as_json=as_json)
    if as_json:
        print_json(made.as_dict())
        return 0
    for result in made.results:
        fact = "as it was" if result.was_fresh else f"made in {result.seconds:.1f} s"
        says = result.measured.get("says")
        print(f"  {result.name:<8} {fact}{f': {says}' if says else ''}")
    if made.notes:
        print("\nTo know:")
        print_list(made.notes)
    print(f"\nThe session is in {made.folder}")
    follow = made.folder / "follow" / "index.html"
    if follow.exists():
        print_wrapped(f"Open it in a browser: {follow}")
    return 0
