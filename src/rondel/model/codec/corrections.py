"""`<track>.corrections.toml`: what a teacher has put right, in a file that she may edit."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import pairwise

from rondel.model.codec.fields import Fields
from rondel.model.codec.moments import (
    MOMENT_SAYS,
    moment,
    moment_says,
    span_of,
    span_says,
)
from rondel.model.corrections import FASTEST_BPM, SLOWEST_BPM, Corrections, Moved

HEAD = """\
# What you have put right in what Rondel heard in this track; it wins over what was heard.
# Take a line away, and what was heard counts again.
"""

_COMMA_WITHIN = re.compile(r"(?<=\d),(?=\d)")


def corrections_text(corrections: Corrections) -> str:
    """Return `corrections` as TOML, kind by kind; times to the thousandth of a second."""
    lines = [HEAD]
    if corrections.bpm is not None:
        lines.append(f"bpm = {corrections.bpm}")
    if corrections.beats_per_bar is not None:
        lines.append(f"beats_per_bar = {corrections.beats_per_bar}")
    rows: tuple[tuple[str, Iterable[str]], ...] = (
        ("bars_at", map(moment_says, corrections.bars_at)),
        ("taps", map(moment_says, corrections.taps)),
        ("moved", (f"{moment_says(m.of)}={moment_says(m.to)}" for m in corrections.moved)),
        ("with_beat", map(span_says, corrections.with_beat)),
        ("without_beat", map(span_says, corrections.without_beat)),
    )
    for key, words in rows:
        quoted = ", ".join(f'"{word}"' for word in words)
        if quoted:
            lines.append(f"{key} = [{quoted}]")
    if corrections.motif is not None:
        lines.append(f'motif = "{span_says(corrections.motif)}"')
    if corrections.strongest is not None:
        lines.append(f'strongest = "{moment_says(corrections.strongest)}"')
    return "\n".join(lines) + "\n"


def corrections_from_dict(data: object, *, at: str = "corrections.toml") -> Corrections:
    """Return the corrections that `data` holds; BadInput naming the key."""
    f = Fields(data, at=at)
    corrections = f.build(
        lambda: Corrections(
            bpm=None if f.raw("bpm") is None else _bpm(f),
            beats_per_bar=(
                None if f.raw("beats_per_bar") is None else f.whole("beats_per_bar", low=1, high=16)
            ),
            bars_at=f.read_each("bars_at", moment),
            taps=f.read_each("taps", moment),
            moved=f.read_each("moved", moved_of),
            motif=f.read("motif", span_of),
            strongest=f.read("strongest", moment),
            with_beat=f.read_each("with_beat", span_of),
            without_beat=f.read_each("without_beat", span_of),
        )
    )
    f.refuse_others()
    return corrections


def _bpm(f: Fields) -> float:
    return float(f.number("bpm", low=SLOWEST_BPM, high=FASTEST_BPM))


def moved_of(text: str) -> Moved:
    """Return what "1:30=1:34" says; ValueError where it is no such thing."""
    of, equals, to = text.partition("=")
    if not equals:
        raise ValueError('must say which section, and where it begins, as in "1:30=1:34"')
    return Moved(of=moment(of), to=moment(to))


def taps_of(text: str) -> tuple[float, ...]:
    """Return tapped times, parted by commas, spaces or lines; what follows a # is left out.

    A comma within a number, as in "10,9 11,7", is read as its point where no other reading gives
    times that come one after the other. ValueError where there are none, or where both readings do.

    >>> taps_of("10,9 11,7 12,5 13,3")
    (10.9, 11.7, 12.5, 13.3)
    """
    told = " ".join(row.partition("#")[0] for row in text.splitlines())
    if _COMMA_WITHIN.search(told) is None:
        return _times_in(told)
    readings = [_rising(told.replace(",", " ")), _rising(_COMMA_WITHIN.sub(".", told))]
    rising = [times for times in readings if times]
    if len(rising) == 1:
        return rising[0]
    word = next(word for word in told.split() if _COMMA_WITHIN.search(word))
    raise ValueError(
        f"it is not clear whether the comma in {word[:20]} parts two taps or is a decimal point; "
        "write 10.9 with a point, and a space between taps"
    )


def _rising(text: str) -> tuple[float, ...]:
    """Return the times in `text` where each is later than the one before; () otherwise."""
    try:
        times = [moment(word) for word in text.replace(",", " ").split()]
    except ValueError:
        return ()
    return tuple(times) if all(a < b for a, b in pairwise(times)) else ()


def _times_in(text: str) -> tuple[float, ...]:
    words = text.replace(",", " ").split()
    if not words:
        raise ValueError("there are no taps; each is a time in seconds, as in 62.5")
    times = []
    for word in words:
        try:
            times.append(moment(word))
        except ValueError as error:
            raise ValueError(f"each tap {MOMENT_SAYS}; “{word[:20]}” is none") from error
    return tuple(sorted(set(times)))
