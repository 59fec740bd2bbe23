"""How answers are printed: JSON for programs, plain lines for people."""

from __future__ import annotations

import json
import math
import shutil
import sys
import textwrap
from collections.abc import Iterable, Sequence

from rondel.drawing.page_words import sentence_under_title
from rondel.model.finding import Finding
from rondel.model.names import SIDE_SAYS, lying_says, names_shown, passage_name
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Proof, Routine
from rondel.model.safety import brief_cautions
from rondel.model.slip import slip_plan
from rondel.model.time import as_minutes
from rondel.model.words import PRESSURE_SAYS, Role, Side
from rondel.planner.naming import listed, thing

#: What stands before the name of a passage, and what it means; a passage may have several signs.
MARKS = {"~": "the refrain", "^": "the peak", "*": "you insist on it", "?": "may be skipped"}

_NAMES = (20, 34)  # the least and the most characters for names


def print_json(data: object) -> None:
    """Print `data` as JSON with a fixed layout; letters that the terminal's alphabet may not have
    are written as JSON's own signs for them."""
    has_all = (sys.stdout.encoding or "").lower().replace("-", "") in ("utf8", "utf8sig")
    json.dump(data, sys.stdout, ensure_ascii=not has_all, indent=1)
    sys.stdout.write("\n")


def width() -> int:
    """Return how wide lines may be: the terminal's width, at most 96 characters."""
    return min(shutil.get_terminal_size((96, 24)).columns, 96)


def _filled(text: str, **indents: str) -> str:
    """Return `text` in lines. Paths and commands are never cut, not even at a hyphen: they are to
    be typed again."""
    return textwrap.fill(
        text,
        width(),
        break_on_hyphens=False,
        break_long_words=False,
        **indents,  # type: ignore[arg-type]
    )


def print_wrapped(text: str, *, indent: str = "", first: str | None = None) -> None:
    """Print `text` in lines that fit, each after `indent` (the first after `first`)."""
    start = indent if first is None else first
    print(_filled(text, initial_indent=start, subsequent_indent=indent))


def print_list(items: Iterable[str]) -> None:
    for item in items:
        print_wrapped(item, indent="    ", first="  – ")


def print_notes(notes: Iterable[str], *, is_aside: bool = False) -> None:
    """Print what is to be known beside the answer; `is_aside`: where it is in no one's way."""
    file = sys.stderr if is_aside else sys.stdout
    for note in notes:
        print(f"\n{_filled(note)}", file=file)


def print_routine(routine: Routine, craft: Craft, *, with_reasons: bool = False) -> None:
    """Print the page in text: when, at which bar, what, on which side, how firmly."""
    bpm = float(routine.tempo[0].bpm)
    print(routine.title)
    print_wrapped(sentence_under_title(routine, craft))
    print(f"{routine.bars} bars at {bpm:.4g} beats a minute\n")
    cautions = brief_cautions(routine.brief, craft)
    for says in cautions:
        print_wrapped(says)
    if cautions:
        print()
    shown = names_shown(routine)
    names = [passage_name(p, craft, shown) for p in routine.passages]
    room = min(max(map(len, names), default=0), _NAMES[1])
    room = max(room, _NAMES[0])
    signs = max((len(_mark(p)) for p in routine.passages), default=0)
    print(f"{'':>6}  {'bar':>4}")
    before = None
    for passage, name in zip(routine.passages, names, strict=True):
        if before is None or passage.position is not before.position:
            print(f"{'':>16}({lying_says(passage.position)})")
        _print_passage(routine, passage, before, name, (max(signs, 1), room))
        if with_reasons:
            for why in passage.why:
                print_wrapped(why, indent=" " * 16)
        before = passage
    end = as_minutes(routine.clock.total_seconds)
    print(f"{end:>6}  {'':>4}    the end\n")
    print(f"  {_legend(routine)}")


def _print_passage(
    routine: Routine, passage: Passage, before: Passage | None, name: str, room: tuple[int, int]
) -> None:
    """Print one line of the page; `room` is how wide the signs and the name may be."""
    start = as_minutes(routine.start_seconds(passage))
    side, firmly = SIDE_SAYS[passage.side], PRESSURE_SAYS[passage.pressure]
    if passage.is_open:
        side, firmly = "", ""
    elif before is not None and _mirrors(before, passage):
        name, firmly = "  the same", ""
    head = f"{start:>6}  {passage.start_bar + 1:>4}  {_mark(passage):<{room[0]}} "
    print(f"{head}{name:<{room[1]}}  {side:<14} {firmly}".rstrip())


def _mirrors(before: Passage, passage: Passage) -> bool:
    """True for the second side of a pair."""
    is_other = before.side is not passage.side and Side.LEFT in (before.side, passage.side)
    alike = (before.technique, before.pressure, before.bars, before.role) == (
        passage.technique,
        passage.pressure,
        passage.bars,
        passage.role,
    )
    return passage.side.is_one_sided and is_other and alike


def _mark(passage: Passage) -> str:
    """Return every sign of a passage: what it is in the whole first, what was asked for last."""
    held: tuple[tuple[bool, str], ...] = (
        (passage.role is Role.REFRAIN, "~"),
        (passage.role is Role.PEAK, "^"),
        (passage.stretch, "?"),
        (passage.kept, "*"),
    )
    return "".join(mark for holds, mark in held if holds)


def _legend(routine: Routine) -> str:
    used = {mark for p in routine.passages for mark in _mark(p)}
    return "    ".join(f"{mark} {says}" for mark, says in MARKS.items() if mark in used)


#: Percent from which on a proof says too little to be told in words; JSON has it all the same.
NEARLY = 15
MOST_FINDINGS = 6  # told with a plan


def print_after_page(routine: Routine, craft: Craft, mattered: tuple[str, ...] = ()) -> None:
    """Print what stands under the page: what mattered most, how good it is, the way back."""
    if mattered:
        print("\nWhat mattered most in choosing:\n")
        print_list(mattered)
    print()
    print_wrapped(proof_says(routine.proof))
    regions = left_out(routine, craft)
    if regions:
        print_wrapped(
            f"You asked for most work on {listed(regions)}; this plan has none there. Insist on a "
            "technique that works there, and it comes in wherever it can."
        )
    slip = slip_plan(routine, craft)
    if slip:
        print_wrapped(slip)


def print_findings(findings: Sequence[Finding]) -> None:
    """Print what the rule book minds in a plan, as far as it is worth a look; nothing for none."""
    if not findings:
        return
    print("\nWhat the rules mind in it:\n")
    print_list(finding.message for finding in findings[:MOST_FINDINGS])
    more = len(findings) - MOST_FINDINGS
    if more > 0:
        print_wrapped(f"And {more} more: rondel check lists them.")


def left_out(routine: Routine, craft: Craft) -> list[str]:
    """Return the main regions asked for that no passage works on, by name."""
    if routine.brief is None:
        return []
    worked = {craft.technique(p.technique).region for p in routine.line if p.technique}
    missing = [id for id in routine.brief.main_regions if id not in worked]
    return [thing(craft.region(id)) for id in missing]


def proof_says(proof: Proof) -> str:
    """Return in one sentence how good the plan is known to be."""
    made = "made of whole phrases, with a peak as firm as this and one of the best refrains"
    if proof.status == "optimal":
        return f"It is proved that no better plan can be {made}."
    if proof.status == "within" and proof.bound is not None and proof.objective > 0:
        gap = (proof.objective - proof.bound) / proof.objective
        percent = max(1, math.ceil(100 * gap - 1e-9))
        if percent <= NEARLY:
            return f"It is proved that a plan {made}, is at most {percent} percent better."
    return "There may be a better plan; --within 60 looks for it for a minute."
