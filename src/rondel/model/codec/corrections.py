"""`<name>.corrections.toml`: what a teacher has put right, in a file that she may edit."""

from __future__ import annotations

from collections.abc import Iterable

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
    """Return tapped times, parted by commas, spaces or lines; what follows a # is left out."""
    rows = (line.partition("#")[0] for line in text.splitlines())
    words = [word for row in rows for word in row.replace(",", " ").split()]
    try:
        return tuple(sorted({moment(word) for word in words}))
    except ValueError as error:
        raise ValueError(f"each tap {MOMENT_SAYS}") from error
