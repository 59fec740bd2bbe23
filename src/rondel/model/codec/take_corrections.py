"""`<take>.corrections.toml`: what a teacher has put right in a take, in a file she may edit."""

from __future__ import annotations

import json
from collections.abc import Iterable

from rondel.model.codec.fields import Fields
from rondel.model.codec.moments import moment, moment_says, span_of, span_says
from rondel.model.take_corrections import Named, TakeCorrections
from rondel.model.words import Side

HEAD = """\
# What you have put right in what Rondel saw in this take; it wins over what was seen.
# Take a line away, and what was seen counts again.
"""


def take_corrections_text(corrections: TakeCorrections) -> str:
    """Return `corrections` as TOML, kind by kind; times to the thousandth of a second."""
    lines = [HEAD]
    if corrections.landing is not None:
        lines.append(f'landing = "{moment_says(corrections.landing)}"')
    rows: tuple[tuple[str, Iterable[str]], ...] = (
        ("taps", map(moment_says, corrections.taps)),
        ("splits", map(moment_says, corrections.splits)),
        ("slips", map(span_says, corrections.slips)),
        ("no_slips", map(span_says, corrections.no_slips)),
        ("away", map(span_says, corrections.away)),
        ("no_away", map(span_says, corrections.no_away)),
        ("named", (f"{moment_says(n.at)}={n.technique}" for n in corrections.named)),
    )
    for key, words in rows:
        quoted = ", ".join(map(_quoted, words))
        if quoted:
            lines.append(f"{key} = [{quoted}]")
    for key in ("technique", "side", "angle"):
        value = getattr(corrections, key)
        if value is not None:
            lines.append(f"{key} = {_quoted(str(value))}")
    return "\n".join(lines) + "\n"


def _quoted(word: str) -> str:
    """Return `word` as a string of TOML, which also escapes what JSON leaves: DEL."""
    return json.dumps(word, ensure_ascii=False).replace("\x7f", "\\u007f")


def take_corrections_from_dict(data: object, *, at: str = "corrections.toml") -> TakeCorrections:
    """Return the corrections that `data` holds; BadInput naming the key."""
    f = Fields(data, at=at)
    corrections = f.build(
        lambda: TakeCorrections(
            landing=f.read("landing", moment),
            taps=f.read_each("taps", moment),
            splits=f.read_each("splits", moment),
            slips=f.read_each("slips", span_of),
            no_slips=f.read_each("no_slips", span_of),
            away=f.read_each("away", span_of),
            no_away=f.read_each("no_away", span_of),
            technique=f.maybe_text("technique"),
            side=None if f.raw("side") is None else f.choice("side", Side),
            angle=f.maybe_text("angle"),
            named=f.read_each("named", named_of),
        )
    )
    f.refuse_others()
    return corrections


def named_of(text: str) -> Named:
    """Return what "0:35=rope-hands" says; ValueError where it is no such thing."""
    at, equals, technique = text.partition("=")
    if not equals or not technique.strip():
        raise ValueError('must say when, and which technique, as in "0:35=rope-hands"')
    return Named(at=moment(at), technique=technique.strip())
