"""`rondel listen TRACK`: what is heard in a brought track, and what the teacher puts right."""

from __future__ import annotations

import argparse
from pathlib import Path

from rondel.cli.put_in import taps_in, typed
from rondel.model.codec.corrections import moved_of
from rondel.model.codec.moments import moment, span_of
from rondel.model.corrections import FASTEST_BPM, FORGETTABLE, SLOWEST_BPM, Corrections
from rondel.model.errors import BadInput

#: What is no correction, and can be forgotten all the same.
SOUND = "sound"

HELP = "hear the beats, sections, swells and motif of a track that you bring, and put them right"

MOST_BEATS_A_BAR = 16


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("track", metavar="TRACK", type=Path, help="a sound file of any common kind")
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="keep what was heard in this folder"
    )
    parser.add_argument(
        "--picture", type=Path, metavar="FILE", help="draw what was heard, as .svg or .png"
    )
    _add_corrections(
        parser.add_argument_group(
            "putting right", "kept beside the track; it wins over what was heard from then on"
        )
    )


def _add_corrections(group: argparse._ArgumentGroup) -> None:
    tempo = group.add_mutually_exclusive_group()
    tempo.add_argument(
        "--twice-as-fast", action="store_true", help="count twice the beats that are told now"
    )
    tempo.add_argument(
        "--half-as-fast", action="store_true", help="count half the beats that are told now"
    )
    tempo.add_argument("--tempo", type=_bpm, metavar="BPM", help="count at this tempo")
    tempo.add_argument(
        "--taps", metavar="FILE", help="the beats as you tapped them: times in a file, or listed"
    )
    group.add_argument(
        "--beats-in-a-bar", type=_beats, metavar="N", help="how many beats make a bar"
    )
    for name, read, metavar, says in (
        (
            "--bar-at",
            moment,
            "TIME",
            "a bar begins here, as in 0:12.4; again for a place from which it begins otherwise",
        ),
        ("--beat", span_of, "FROM-TO", "a beat can be heard here"),
        ("--no-beat", span_of, "FROM-TO", "no beat can be heard here"),
        ("--move-section", moved_of, "A=B", "the section that begins at A begins at B"),
    ):
        group.add_argument(
            name, type=typed(read), action="append", default=[], metavar=metavar, help=says
        )
    group.add_argument(
        "--motif",
        type=typed(span_of),
        metavar="FROM-TO",
        help="the motif sounds here; Rondel finds where it returns",
    )
    group.add_argument(
        "--strongest",
        type=typed(moment),
        metavar="TIME",
        help="the section that sounds here is the strongest of the track",
    )
    group.add_argument(
        "--forget",
        choices=[*sorted(FORGETTABLE), SOUND],
        action="append",
        default=[],
        help="take back what you put right of this kind; sound: what is kept of the track's sound, "
        "so that putting right takes seconds, goes away",
    )
    group.add_argument(
        "--forget-corrections", action="store_true", help="take back all that you put right"
    )


def _bpm(word: str) -> float:
    try:
        bpm = float(word)
    except ValueError:
        bpm = -1.0
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        says = f"{word} must be from {SLOWEST_BPM} to {FASTEST_BPM} beats a minute"
        raise argparse.ArgumentTypeError(says)
    return bpm


def _beats(word: str) -> int:
    if not word.isdecimal() or not 1 <= int(word) <= MOST_BEATS_A_BAR:
        says = f"{word} must be a whole number from 1 to {MOST_BEATS_A_BAR}"
        raise argparse.ArgumentTypeError(says)
    return int(word)


def run(arguments: argparse.Namespace) -> int:
    from rondel.app.hear_track import Asked
    from rondel.cli import heard
    from rondel.cli.progress_bar import Bars
    from rondel.wiring_tracks import draw_heard_to, hear_from_file

    if arguments.picture is not None and arguments.picture.suffix.lower() not in (".svg", ".png"):
        raise BadInput("a picture is .svg or .png", at=str(arguments.picture))
    times = {(True, False): 2.0, (False, True): 0.5}.get(
        (arguments.twice_as_fast, arguments.half_as_fast)
    )
    kinds = tuple(kind for kind in arguments.forget if kind != SOUND)
    asked = Asked(
        more=_corrections(arguments),
        times=times,
        forget=tuple(FORGETTABLE) if arguments.forget_corrections else kinds,
        forgets_sound=SOUND in arguments.forget,
    )
    with Bars() as progress:
        found = hear_from_file(arguments.track, progress=progress, asked=asked, out=arguments.out)
    if arguments.picture is not None:
        draw_heard_to(arguments.picture, found.heard, title=arguments.track.stem)
    code = heard.report(found, arguments.track, arguments.picture, as_json=arguments.json)
    if asked.forgets_sound and not arguments.json:
        print(
            "\nNothing is kept of its sound; the next time you put it right, Rondel listens again."
        )
    return code


def _corrections(arguments: argparse.Namespace) -> Corrections:
    try:
        return Corrections(
            bpm=arguments.tempo,
            beats_per_bar=arguments.beats_in_a_bar,
            bars_at=tuple(sorted(set(arguments.bar_at))),
            taps=taps_in(arguments.taps),
            moved=tuple(dict.fromkeys(arguments.move_section)),
            motif=arguments.motif,
            strongest=arguments.strongest,
            with_beat=tuple(arguments.beat),
            without_beat=tuple(arguments.no_beat),
        )
    except ValueError as error:
        raise BadInput(str(error), at="what is to be put right") from error
