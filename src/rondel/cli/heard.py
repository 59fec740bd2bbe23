"""What was heard in a track, printed: sentences, what was put right, how else it may be counted."""

from __future__ import annotations

import math
import shlex
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

from rondel.app.hear_track import HeardTrack
from rondel.cli.printing import print_json, print_list, print_notes, print_wrapped
from rondel.drawing.heard_words import heard_sentences
from rondel.listening.corrections import moves_aside
from rondel.model.codec.moments import moment_says, span_says
from rondel.model.codec.track import heard_to_dict
from rondel.model.corrections import Moved
from rondel.model.stretches import less
from rondel.model.time import as_minutes
from rondel.model.track import Heard, OtherTempo, Span

T = TypeVar("T")

#: Two tempi nearer than this share are the same.
SAME_TEMPO = 0.01
#: How many times as fast, and how one says it.
SPEEDS = ((2.0, "twice as fast"), (0.5, "half as fast"), (3.0, "three times as fast"))


def report(found: HeardTrack, track: Path, picture: Path | None, *, as_json: bool) -> int:
    """Print what was heard, and return the exit code: 1 where there is no beat to follow."""
    heard = found.heard
    if as_json:
        print_json(heard_to_dict(heard))
    else:
        _print(found, track)
        if picture is not None:
            print(f"\nIts picture: {picture}")
    return 0 if has_beat(heard) else 1


def has_beat(heard: Heard) -> bool:
    """True where a beat can surely be heard somewhere."""
    whole = Span(start=0.0, end=heard.seconds)
    return bool(heard.beats) and bool(less((whole,), (*heard.beatless, *heard.unsure)))


def _print(found: HeardTrack, track: Path) -> None:
    print(track.name)
    for sentence in heard_sentences(found.heard):
        print_wrapped(sentence, indent="  ")
    right = corrections_say(found)
    if right:
        print("\nWhat you have put right:")
        print_list(right)
    print_notes(found.notes)
    offers = offers_of(found, track)
    if offers:
        print("\nIf that is not how you hear it:")
        for says, command in offers:
            print_wrapped(f"{says}:", indent="    ", first="  – ")
            print(f"      {command}")


def corrections_say(found: HeardTrack) -> list[str]:
    """Return what was put right, a phrase each."""
    c, heard = found.corrections, found.heard
    first = f"first heard as {found.first_bpm:.4g} beats a minute"
    phrases = [
        (c.bpm is not None, f"the tempo, {heard.bpm:.4g} beats a minute ({first})"),
        (bool(c.taps), f"the beats, as you tapped them ({first})"),
        (c.beats_per_bar is not None, f"bars of {c.beats_per_bar} beats"),
        (bool(c.bars_at), f"bars begin at {_all(moment_says, c.bars_at)}"),
        (bool(c.with_beat), f"a beat can be heard {_all(span_says, c.with_beat)}"),
        (bool(c.without_beat), f"no beat can be heard {_all(span_says, c.without_beat)}"),
        (c.motif is not None, "the motif, from one place where it sounds"),
        (c.strongest is not None, f"the strongest section, at {moment_says(c.strongest or 0)}"),
    ]
    aside = moves_aside(heard, c.moved)
    moved = [_moved_says(move, is_aside=move in aside) for move in c.moved]
    return [says for holds, says in phrases if holds] + moved


def _moved_says(move: Moved, *, is_aside: bool) -> str:
    of, to = moment_says(move.of), moment_says(move.to)
    if not is_aside:
        return f"the section at {of} begins at {to}"
    return (
        f"the section at {of} was to begin at {to}: this is put aside, for no section can be moved "
        "there now; it counts again where one can (--forget sections takes it back)"
    )


def _all(says: Callable[[T], str], things: Iterable[T]) -> str:
    return ", ".join(says(thing) for thing in things)


def offers_of(found: HeardTrack, track: Path) -> list[tuple[str, str]]:
    """Return how else the track may be counted, and what settles it: words and the command."""
    heard, command = found.heard, f"rondel listen {shlex.quote(str(track))}"
    offers = [
        (_other_says(other, heard), f"{command} {_other_option(other, found)}")
        for other in heard.others
    ]
    if not found.corrections.bars_at and heard.downbeats:
        offers.append(
            (
                f"bars begin elsewhere than at {moment_says(round(heard.downbeats[0], 2))}",
                f"{command} --bar-at TIME",
            )
        )
    offers.extend(
        (
            f"there is a beat from {as_minutes(span.start)} to {as_minutes(span.end)} "
            "(--no-beat says that there is none)",
            f"{command} --beat {span_says(_outward(span))}",
        )
        for span in heard.unsure
    )
    if not heard.returns and found.corrections.motif is None and heard.loudness is not None:
        offers.append((_motif_says(heard), f"{command} --motif FROM-TO"))
    if not found.corrections.is_empty:
        offers.append(("as it was first heard", f"{command} --forget-corrections"))
    return offers


def _motif_says(heard: Heard) -> str:
    guesses = [span_says(_to_tenths(span)) for span in heard.motif_guesses]
    may_be = f" (it may be {', or '.join(guesses)})" if guesses else ""
    return f"a motif returns; show one place{may_be}"


def _outward(span: Span) -> Span:
    """Return `span` to the tenth of a second, no shorter than it was."""
    return Span(start=math.floor(span.start * 10) / 10, end=math.ceil(span.end * 10) / 10)


def _to_tenths(span: Span) -> Span:
    return Span(start=round(span.start, 1), end=round(span.end, 1))


def _other_says(other: OtherTempo, heard: Heard) -> str:
    ratio = other.bpm / heard.bpm if heard.bpm > 0 else 0.0
    speed = next((says for times, says in SPEEDS if abs(ratio / times - 1) < SAME_TEMPO), "")
    named = f"{speed}, " if speed else ""
    return f"{named}{other.bpm:.4g} beats a minute in bars of {other.beats_per_bar}"


def _other_option(other: OtherTempo, found: HeardTrack) -> str:
    """Return the option that counts as `other` does."""
    times = other.bpm / found.heard.bpm if found.heard.bpm > 0 else 0.0
    parts = []
    if abs(other.bpm - found.heard.bpm) > SAME_TEMPO * found.heard.bpm:
        named = {2.0: "--twice-as-fast", 0.5: "--half-as-fast"}
        near = [option for ratio, option in named.items() if abs(times / ratio - 1) < SAME_TEMPO]
        parts.append(near[0] if near else f"--tempo {other.bpm:.6g}")
    if other.beats_per_bar != found.heard.beats_per_bar:
        parts.append(f"--beats-in-a-bar {other.beats_per_bar}")
    return " ".join(parts)
