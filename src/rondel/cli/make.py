"""`rondel make ROUTINE|BRIEF`: the session folder."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rondel.cli.film import add_limits, limits_from, shapes_from
from rondel.cli.many_bars import NOT_MADE, ManyBars, what_became
from rondel.cli.printing import print_json, print_list, print_wrapped
from rondel.cli.progress_bar import Bars
from rondel.model.errors import BadInput

if TYPE_CHECKING:
    from rondel.app.make_session import Made
    from rondel.app.ports.workers import Ended
    from rondel.wiring import FilmAsked

HELP = "make the session: video, audio, captions, page, cards, follow-along page"

MOST_AT_ONCE = 64


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "sources",
        metavar="ROUTINE|BRIEF",
        type=Path,
        nargs="+",
        help="routine or brief; of several a session each is made, side by side",
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
    parser.add_argument(
        "--keep-sound", action="store_true", help="takes are heard, low under the music"
    )
    parser.add_argument("--drawn", action="store_true", help="leave takes out: all is drawn")
    add_limits(parser)
    _add_many(parser.add_argument_group("several sources"))
    parser.add_argument("--json", action="store_true", help="print what was made as JSON")


def _add_many(many: argparse._ArgumentGroup) -> None:
    many.add_argument(
        "--at-once",
        type=int,
        metavar="N",
        help="so many sessions at once; where nobody says, one for each core and 1.5 GB of memory",
    )
    many.add_argument(
        "--workers",
        metavar="ADDRESS",
        help="make them over Dask workers, as in tcp://127.0.0.1:8786; see docs/many.md",
    )


def run(arguments: argparse.Namespace) -> int:
    sources: list[Path] = arguments.sources
    if arguments.at_once is not None and not 1 <= arguments.at_once <= MOST_AT_ONCE:
        raise BadInput(f"1 to {MOST_AT_ONCE} sessions may be made at once", at="--at-once")
    if len(sources) == 1 and arguments.workers is None:
        made = _make(arguments, sources[0], arguments.out or default_out(sources[0]))
        return report(made, as_json=arguments.json)
    if len(sources) == 1:
        return _run_all(arguments, {sources[0]: arguments.out or default_out(sources[0])})
    return _run_all(arguments, outs_of(sources, arguments.out))


def _run_all(arguments: argparse.Namespace, outs: dict[Path, Path]) -> int:
    """Make a session of every source; one that cannot be made is told, and stops no other."""
    from rondel.app.make_many import make_many
    from rondel.wiring import SoundAsked, parts_from
    from rondel.wiring_many import orders_for, workers_for

    orders = orders_for(
        outs,
        only=parts_from(arguments.only),
        quick=arguments.quick,
        sound=SoundAsked(
            soundfont=arguments.soundfont.absolute() if arguments.soundfont else None,
            loudness=arguments.loudness,
            has_beat_marks=arguments.beat_marks,
        ),
        film=_film(arguments),
        is_elsewhere=arguments.workers is not None,
    )
    workers, who = workers_for(arguments.at_once, arguments.workers, len(orders))
    print(who, file=sys.stderr, flush=True)
    with ManyBars([str(source) for source in outs]) as bars:
        all_ended = make_many(orders, workers, bars)
    if arguments.json:
        print_json([_ended_dict(*one) for one in zip(outs, all_ended, strict=True)])
    else:
        _print_all(outs, all_ended)
    return max(_exit_code(ended) for ended in all_ended)


def _exit_code(ended: Ended) -> int:
    if ended.made is None:
        return ended.exit_code
    return 0 if ended.made.outcome.routine else 1


def _print_all(outs: Iterable[Path], all_ended: Iterable[Ended]) -> None:
    """Print what was made, and at the end what was not."""
    failed: list[str] = []
    count = 0
    for source, ended in zip(outs, all_ended, strict=True):
        count += 1
        why = what_became(ended)
        if why:
            failed.append(f"{source}: {why.removeprefix(NOT_MADE)}")
        if ended.made is not None:
            print(f"\n{source}")
            report(ended.made, as_json=False)
    if failed:
        print(f"\nrondel: {len(failed)} of {count} sessions could not be made:", file=sys.stderr)
        for says in failed:
            print(f"  – {says}", file=sys.stderr)


def _ended_dict(source: Path, ended: Ended) -> dict[str, object]:
    if ended.made is None:
        return {"source": str(source), "error": ended.says}
    return {"source": str(source), **_as_dict(ended.made)}


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
    whose: dict[Path, Path] = {}
    for source in sources:
        folder = default_out(source)
        if out is not None:
            folder = out / (source.resolve().parent.name if _is_plain(source) else source.stem)
        taken = whose.setdefault(folder.resolve(), source)
        if taken is not source:
            raise BadInput(
                f"its session would lie in {folder}, where that of {taken} does; make them one by "
                "one, each with an --out of its own",
                at=str(source),
            )
        found[source] = folder
    return found


def _is_plain(source: Path) -> bool:
    """True for a file that is called as every brief or routine is."""
    return source.stem in ("brief", "routine")


def _make(arguments: argparse.Namespace, source: Path, out: Path) -> Made:
    from rondel.wiring import SoundAsked, make_from_file, parts_from

    only = parts_from(arguments.only)
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
            film=_film(arguments),
        )


def _film(arguments: argparse.Namespace) -> FilmAsked:
    from rondel.wiring import FilmAsked

    return FilmAsked(
        shapes=shapes_from(arguments.shape),
        limits=limits_from(arguments),
        fills=arguments.fill,
        is_drawn=arguments.drawn,
        keeps_sound=arguments.keep_sound,
    )


def default_out(source: Path) -> Path:
    """Return where the session goes when nobody says: a folder beside the source.

    It is called `session`, and after a source with a name of its own `session-NAME`, so that two
    briefs in one folder never share one. A routine that lies in a session already is made there.
    """
    from rondel.adapters.session_folder import is_session

    if not source.exists():
        raise BadInput("there is no such file; check the name and the folder", at=str(source))
    if is_session(source.parent):
        return source.parent
    return source.parent / ("session" if _is_plain(source) else f"session-{source.stem}")


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
