"""`rondel make ROUTINE|BRIEF`: the session folder."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.film import add_limits, limits_from, shapes_from
from rondel.cli.printing import print_list, print_wrapped
from rondel.cli.progress_bar import Bars
from rondel.model.errors import BadInput

HELP = "make the session: video, audio, captions, page, cards, follow-along page"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("source", metavar="ROUTINE|BRIEF", type=Path, help="routine or brief")
    parser.add_argument("--out", type=Path, metavar="DIR", help="the session folder")
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
    from rondel.wiring import FilmAsked, SoundAsked, make_from_file, parts_from

    only = parts_from(arguments.only)
    film = FilmAsked(
        shapes=shapes_from(arguments.shape),
        limits=limits_from(arguments),
        fills=arguments.fill,
        is_drawn=arguments.drawn,
    )
    out = arguments.out or default_out(arguments.source)
    with Bars() as progress:
        made = make_from_file(
            arguments.source,
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
    return report(made, as_json=arguments.json)


def default_out(source: Path) -> Path:
    """Return where the session goes when nobody says: the folder `session` beside the source.

    A routine that lies in a session already is made there.
    """
    from rondel.wiring import is_session

    if not source.exists():
        raise BadInput("there is no such file; check the name and the folder", at=str(source))
    return source.parent if is_session(source.parent) else source.parent / "session"


def report(made: object, *, as_json: bool) -> int:
    """Print what was made, and return the exit code."""
    from rondel.app.make_session import Made
    from rondel.cli.printing import print_json
    from rondel.cli.refusal import say_why_not

    assert isinstance(made, Made)
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
