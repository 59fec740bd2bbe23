"""`rondel plan BRIEF --levels 1,2,3`: a family of routines from one brief."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from pathlib import Path

from rondel.cli.printing import print_json, print_list, print_routine, print_wrapped, width
from rondel.cli.refusal import say_why_not
from rondel.model.errors import BadInput
from rondel.model.names import names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.time import as_minutes
from rondel.planner.levels import Family

_TIME = 6  # characters for a time


def levels(word: str) -> tuple[int, ...]:
    """Return the levels in "1,2,3"."""
    parts = [part.strip() for part in word.split(",")]
    if not all(part in ("1", "2", "3", "4", "5") for part in parts):
        raise argparse.ArgumentTypeError(f"{word} must be levels from 1 to 5, as in 1,2,3")
    return tuple(sorted({int(part) for part in parts}))


def run(arguments: argparse.Namespace) -> int:
    """Plan, write and print every level; 1 where one of them has no routine."""
    from rondel.adapters.studio_files import craft_for, require_free_for_routine
    from rondel.adapters.take_names import rather_filmed
    from rondel.adapters.track_place import write_routine_of
    from rondel.app.make_levels import make_levels
    from rondel.app.set_track import refused_by_track, set_track
    from rondel.cli.progress_bar import Bars
    from rondel.planner.wishes import require_known
    from rondel.wiring_tracks import read_brief_and_track

    if arguments.near or arguments.others or arguments.within:
        raise BadInput("this goes with none of --near, --others and --within", at="--levels")
    if arguments.out:
        for level in arguments.levels:
            require_free_for_routine(path_for(arguments.out, level))
    craft = craft_for(arguments.brief)
    with Bars() as progress:
        brief, heard = read_brief_and_track(arguments.brief, progress=progress)
    if arguments.filmed:
        brief = rather_filmed(brief, arguments.brief, craft)
    require_known(brief, craft, at=arguments.brief.name)
    if heard is not None:
        brief = set_track(brief, heard)
        refusal = refused_by_track(brief, heard, craft)
        if refusal is not None:
            return say_why_not(refusal, as_json=arguments.json)
    found = make_levels(brief, craft, arguments.levels)
    paths = {}
    for member in found.members:
        if member.outcome.routine is not None and arguments.out:
            paths[member.level] = path_for(arguments.out, member.level)
            write_routine_of(arguments.brief, paths[member.level], member.outcome.routine)
    if arguments.json:
        print_json(_as_json(found))
    else:
        _print(found, craft, with_reasons=arguments.why)
        for path in paths.values():
            print(f"Written to {path}. Next: rondel make {path}")
    there = {m.level for m in found.members if m.outcome.routine is not None}
    return 0 if there == set(arguments.levels) else 1


def path_for(out: Path, level: int) -> Path:
    """Return the file of one level: beside `out`, or inside it where it is a folder."""
    if out.is_dir() or not out.suffix:
        return out / f"routine-level-{level}.json"
    return out.with_name(f"{out.stem}-level-{level}{out.suffix}")


def _print(found: Family, craft: Craft, *, with_reasons: bool) -> None:
    from rondel.app.make_levels import ALONE, step_says, unmet_says

    for member in found.members:
        if member.outcome.routine is None:
            print(f"{unmet_says(member)}\n")
            print_list(member.outcome.reasons)
        else:
            print_routine(member.outcome.routine, craft, with_reasons=with_reasons)
            print_list(member.says)
        print()
    there = [m.outcome.routine for m in found.members if m.outcome.routine is not None]
    if not there:
        print_wrapped(ALONE)
    elif len(there) > 1:
        print("Side by side (=: as on the left):\n")
        for line in beside(there, craft):
            print(line)
        print()
        print_list(says for step in found.steps for says in step_says(step, craft))
        print()


def beside(routines: Sequence[Routine], craft: Craft) -> list[str]:
    """Return a table: when, and what begins then in each of the routines, which last alike."""
    cell = max(12, (width() - _TIME - 2) // len(routines) - 2)
    heads = (f"level {r.brief.level}" if r.brief else "" for r in routines)
    lines = [_line("", heads, cell)]
    for bar in sorted({p.start_bar for r in routines for p in r.line}):
        cells, left = [], None
        for routine in routines:
            passage = next((p for p in routine.line if p.start_bar == bar), None)
            name = "" if passage is None else _cell(routine, passage, craft)
            cells.append("=" if name and name == left else name)
            left = name
        time = as_minutes(routines[0].clock.seconds_at_bar(bar))
        lines.append(_line(time, cells, cell))
    return lines


def _cell(routine: Routine, passage: Passage, craft: Craft) -> str:
    name = passage_name(passage, craft, names_shown(routine))
    side = f" ({passage.side})" if passage.side.is_one_sided else ""
    return f"{'~ ' if passage.role == 'refrain' else ''}{name}{side}"


def _line(time: str, cells: Iterable[str], room: int) -> str:
    short = [c if len(c) <= room else f"{c[: room - 1]}…" for c in cells]
    return f"{time:>{_TIME}}  {'  '.join(f'{c:<{room}}' for c in short)}".rstrip()


def _as_json(found: Family) -> dict[str, object]:
    from rondel.model.codec.routine import routine_to_dict

    members: list[dict[str, object]] = []
    for member in found.members:
        routine = member.outcome.routine
        row: dict[str, object] = {"level": member.level, "routine": None}
        if routine is None:
            row["reasons"] = list(member.outcome.reasons)
        else:
            row["routine"] = routine_to_dict(routine)
        members.append(row)
    steps = [
        {
            "from": step.lower,
            "to": step.upper,
            "alike": round(step.alike, 4),
            "same_refrain": step.same_refrain,
            "returns_moved_seconds": step.returns_moved,
            "peak_moved_seconds": step.peak_moved,
            "new": list(step.new),
            "gone": list(step.gone),
        }
        for step in found.steps
    ]
    return {"levels": members, "steps": steps}
