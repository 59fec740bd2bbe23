"""`rondel watch TAKE…`: strokes, slips and pauses in footage, and what the teacher puts right."""

from __future__ import annotations

import argparse
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from rondel.cli.printing import print_json, print_list, print_wrapped
from rondel.cli.progress_bar import Bars
from rondel.cli.put_in import taps_in, typed
from rondel.model.codec.fields import closest
from rondel.model.codec.moments import moment, moment_says, span_of, span_says
from rondel.model.codec.take_corrections import named_of
from rondel.model.errors import BadInput, OutsideFailure
from rondel.model.names import technique_called
from rondel.model.repertoire import Craft, Technique
from rondel.model.take import Seen, SeenStretch
from rondel.model.take_corrections import FORGETTABLE, TakeCorrections
from rondel.model.time import as_minutes
from rondel.model.words import Side

#: Techniques that are offered for what moves alike, and parts of a take that they are told for.
_MOST_OFFERED, _MOST_PARTS = 6, 4
PICTURES = (".svg", ".png")
#: What is put right at a time of one take.
TIMED = (
    "--landing-at",
    "--taps",
    "--other-motion-at",
    "--slip",
    "--no-slip",
    "--away",
    "--not-away",
    "--technique-at",
)

HELP = "find the strokes, slips and pauses in a take that was filmed, and put them right"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "takes",
        metavar="TAKE",
        type=Path,
        nargs="+",
        help="a film of any common kind, several of them, or a folder of them",
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--out", type=Path, metavar="DIR", help="keep what was seen in this folder")
    parser.add_argument(
        "--picture",
        type=Path,
        metavar="FILE",
        help="draw what was seen, as .svg or .png, or into a folder",
    )
    _add_corrections(
        parser.add_argument_group(
            "putting right", "kept beside the take; it wins over what was seen from then on"
        )
    )


def _add_corrections(group: argparse._ArgumentGroup) -> None:
    group.add_argument(
        "--landing-at",
        type=typed(moment),
        metavar="TIME",
        help="a stroke lands just here, as in 0:12.4; all others of its kind likewise",
    )
    group.add_argument(
        "--taps", metavar="FILE", help="strokes as you tapped them: times in a file, or listed"
    )
    for name, read, metavar, says in (
        ("--other-motion-at", moment, "TIME", "hands begin to move in another way here"),
        ("--slip", span_of, "FROM-TO", "a hand slips here"),
        ("--no-slip", span_of, "FROM-TO", "no hand slips here"),
        ("--away", span_of, "FROM-TO", "hands are out of the picture here"),
        ("--not-away", span_of, "FROM-TO", "hands are in the picture here"),
        ("--technique-at", named_of, "TIME=NAME", "what goes on at TIME is this technique"),
    ):
        group.add_argument(
            name, type=typed(read), action="append", default=[], metavar=metavar, help=says
        )
    group.add_argument("--technique", metavar="NAME", help="the whole take is of this technique")
    group.add_argument("--side", choices=[side.value for side in Side], help="the side it shows")
    group.add_argument("--angle", metavar="WORDS", help="where the camera stands, in your words")
    group.add_argument(
        "--forget",
        choices=sorted(FORGETTABLE),
        action="append",
        default=[],
        help="take back what you put right of this kind",
    )
    group.add_argument(
        "--forget-corrections", action="store_true", help="take back all that you put right"
    )


def run(arguments: argparse.Namespace) -> int:
    from rondel.adapters.take_place import films_of

    takes = films_of(arguments.takes)
    _refuse_mistaken(arguments, takes)
    asked = arguments.takes
    if len(asked) == 1 and not asked[0].is_dir():
        return _watch(arguments, asked[0])
    return _watch_each(arguments, takes)


def _watch_each(arguments: argparse.Namespace, takes: Sequence[Path]) -> int:
    """Watch several takes, one after the other; one that cannot be read keeps none of the others
    from it."""
    failed = 0
    for number, take in enumerate(takes):
        if number:
            print()
        try:
            failed += _watch(arguments, take)
            continue
        except (BadInput, OutsideFailure) as error:
            why = error.says
        except OSError as error:
            why = f"it cannot be read ({error.strerror})"
        failed += 1
        print(take.name)
        print_wrapped(f"It is left out: {why}.", indent="  ")
    return 1 if failed else 0


def _watch(arguments: argparse.Namespace, take: Path) -> int:
    """Watch one take, and tell of it."""
    from rondel.adapters.studio_files import craft_for
    from rondel.app.watch_take import AskedOfTake
    from rondel.drawing.seen_words import seen_sentences
    from rondel.model.codec.take import seen_to_dict
    from rondel.wiring_takes import draw_seen_to, watch_from_file

    craft = craft_for(take)
    asked = AskedOfTake(
        more=_corrections(arguments, craft),
        forget=tuple(FORGETTABLE) if arguments.forget_corrections else tuple(arguments.forget),
    )
    with Bars() as progress:
        found = watch_from_file(take, progress=progress, asked=asked, out=arguments.out)
    picture = _picture_of(arguments.picture, take)
    if picture is not None:
        draw_seen_to(picture, found.seen, take)
    if arguments.json:
        print_json(seen_to_dict(found.seen))
        return 0 if found.seen.strokes else 1
    print(take.name)
    names = {one.id: one.plain for one in craft.techniques}
    for sentence in seen_sentences(found.seen, names):
        print_wrapped(sentence, indent="  ")
    offers = may_be_say(found.seen, craft.techniques, take)
    if offers:
        print("\nWhat it may be, by how hands move and how fast; name what it is:")
        print_list(offers)
    right = corrections_say(found.corrections, names)
    if right:
        print("\nWhat you have put right:")
        print_list(right)
    if picture is not None:
        print(f"\nIts picture: {picture}")
    return 0 if found.seen.strokes else 1


def _picture_of(picture: Path | None, take: Path) -> Path | None:
    """Return where the picture of `take` is drawn: in a folder, it has the whole name of the take,
    for two may differ by their kind alone."""
    if picture is None or picture.suffix.lower() in PICTURES:
        return picture
    return picture / f"{take.name}.png"


def _refuse_mistaken(arguments: argparse.Namespace, takes: Sequence[Path]) -> None:
    """Refuse what cannot be meant, before anything is watched."""
    picture: Path | None = arguments.picture
    if picture is not None and picture.suffix.lower() in PICTURES and len(takes) > 1:
        raise BadInput("several takes need a folder for their pictures", at=str(picture))
    if picture is not None and picture.suffix.lower() not in PICTURES and not picture.is_dir():
        raise BadInput("a picture is .svg or .png, or a folder that is there", at=str(picture))
    if len(takes) < 2:
        return
    if arguments.json:
        raise BadInput("JSON tells of one take at a time; name one", at="--json")
    asked = {name: getattr(arguments, name[2:].replace("-", "_")) for name in TIMED}
    timed = [name for name, what in asked.items() if what not in (None, [])]
    if timed:
        raise BadInput("its time belongs to one take; name that take alone", at=timed[0])


def may_be_say(seen: Seen, techniques: Sequence[Technique], take: Path) -> list[str]:
    """Return which techniques the parts of `take` may show that nobody has named, a sentence each.

    Parts that may be the same are told together.
    """
    from rondel.watching.may_be import may_be

    parts: dict[tuple[Technique, ...], list[SeenStretch]] = {}
    for one in seen.stretches:
        if one.technique is None and (found := may_be(one, techniques, seen.side)):
            parts.setdefault(found, []).append(one)
    says = []
    for found, stretches in list(parts.items())[:_MOST_PARTS]:
        spans = [one.span for one in stretches[:_MOST_PARTS]]
        where = ", ".join(f"{as_minutes(s.start)} to {as_minutes(s.end)}" for s in spans)
        names = ", ".join(f"{one.plain} ({one.id})" for one in found[:_MOST_OFFERED])
        more = len(found) - _MOST_OFFERED
        alike = "one more that moves" if more == 1 else f"one of {more} more that move"
        others = f", or {alike} alike" if more > 0 else ""
        middle = moment_says(round((stretches[0].span.start + stretches[0].span.end) / 2))
        naming = f"rondel watch {shlex.quote(str(take))} --technique-at {middle}={found[0].id}"
        says.append(f"From {where}: {names}{others}. To name the first: {naming}")
    return says


def _known(word: str, craft: Craft, at: str) -> str:
    """Return the id of the technique that has this id or name; refuse one that nobody teaches where
    the take lies: it would be shown nowhere."""
    called = technique_called(word, craft)
    if called is not None:
        return called.id
    hint = closest(word, [one.id for one in craft.techniques])
    raise BadInput(
        f'no technique has the id "{word}"{hint or "; `rondel techniques` lists them"}', at=at
    )


def _corrections(arguments: argparse.Namespace, craft: Craft) -> TakeCorrections:
    whole: str | None = arguments.technique
    named = [
        replace(one, technique=_known(one.technique, craft, "--technique-at"))
        for one in arguments.technique_at
    ]
    try:
        return TakeCorrections(
            landing=arguments.landing_at,
            taps=taps_in(arguments.taps),
            splits=tuple(sorted(set(arguments.other_motion_at))),
            slips=tuple(arguments.slip),
            no_slips=tuple(arguments.no_slip),
            away=tuple(arguments.away),
            no_away=tuple(arguments.not_away),
            technique=_known(whole, craft, "--technique") if whole else None,
            side=Side(arguments.side) if arguments.side else None,
            angle=arguments.angle,
            named=tuple(named),
        )
    except ValueError as error:
        raise BadInput(str(error), at="what you put right") from error


def corrections_say(corrections: TakeCorrections, names: Mapping[str, str]) -> list[str]:
    """Return what was put right, a sentence each; `names`: of techniques, by their ids."""
    c = corrections
    found = []
    if c.landing is not None:
        found.append(f"A stroke lands at {moment_says(c.landing)}.")
    if c.taps:
        first, last = moment_says(c.taps[0]), moment_says(c.taps[-1])
        found.append(f"Strokes as tapped from {first} to {last}.")
    found += [f"Another motion begins at {moment_says(split)}." for split in c.splits]
    found += [f"A hand slips at {span_says(span)}." for span in c.slips]
    found += [f"No hand slips at {span_says(span)}." for span in c.no_slips]
    found += [f"Hands are out of the picture at {span_says(span)}." for span in c.away]
    found += [f"Hands are in the picture at {span_says(span)}." for span in c.no_away]
    if c.technique:
        found.append(f"It is {names.get(c.technique, c.technique)}.")
    for n in c.named:
        name = names.get(n.technique, n.technique)
        found.append(f"What goes on at {moment_says(n.at)} is {name}.")
    if c.side:
        found.append("It shows both sides." if c.side is Side.BOTH else f"Side: {c.side}.")
    if c.angle:
        found.append(f"Angle: {c.angle}.")
    return found
