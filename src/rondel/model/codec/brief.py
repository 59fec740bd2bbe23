"""brief.toml, and the brief that a routine carries with it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from rondel.model.brief import UNTITLED, Brief, Keep
from rondel.model.codec.fields import Fields
from rondel.model.words import (
    Contact,
    Intention,
    Language,
    MusicLayer,
    NamesShown,
    Position,
    Side,
)

_CLOCK = re.compile(r"([0-9]{1,4}):([0-5][0-9])(\.[0-9]{1,9})?")


def brief_from_dict(data: object, *, at: str = "brief.toml") -> Brief:
    """Return the brief that `data` holds; BadInput names file and key of what will not do."""
    f = Fields(data, at=at)
    brief = f.build(
        lambda: Brief(
            title=f.text("title", UNTITLED),
            minutes=f.number("minutes", low=3, high=120),
            intention=f.choice("intention", Intention),
            level=f.whole("level", 1, low=1, high=5),
            refrains=None if f.raw("refrains") is None else f.whole("refrains", low=1, high=60),
            main_regions=f.texts("main_regions"),
            avoid_regions=f.texts("avoid_regions"),
            spare=f.choices("spare", Contact),
            stretch=f.flag("stretch", True),
            positions=f.choices("positions", Position),
            cautions=f.texts("cautions"),
            open_minutes=f.number("open_minutes", 0, low=0),
            seed=f.whole("seed", 1, low=0),
            bpm=None if f.raw("bpm") is None else f.number("bpm", low=30, high=200),
            track=f.maybe_text("track"),
            names=f.choice("names", NamesShown, NamesShown.PLAIN),
            language=None if f.raw("language") is None else f.choice("language", Language),
            character=None if f.raw("character") is None else f.choice("character", Intention),
            prefer=f.texts("prefer"),
            without=f.choices("without", MusicLayer),
            trained=f.flag("trained", False),
            keep=tuple(_keep(k) for k in f.tables("keep")),
        )
    )
    f.refuse_others()
    return brief


def _keep(f: Fields) -> Keep:
    """Return one thing the teacher insists on."""
    at = f.raw("at")
    keep = Keep(
        technique=f.text("technique"),
        at_seconds=None if at is None else _clock_seconds(f, at),
        minutes=None if f.raw("minutes") is None else f.number("minutes", low=0.1, high=120),
        side=None if f.raw("side") is None else f.choice("side", Side),
        pressure=None if f.raw("pressure") is None else f.whole("pressure", low=0, high=5),
    )
    f.refuse_others()
    return keep


def _clock_seconds(f: Fields, at: object) -> Fraction:
    """Return the seconds of a time written as "9:30"."""
    match = _CLOCK.fullmatch(at) if isinstance(at, str) else None
    if match is None:
        raise f.fail("at", 'must be a time in minutes and seconds, as in "9:30"')
    minutes, seconds, rest = match.groups()
    return Fraction(int(minutes) * 60 + int(seconds)) + Fraction(f"0{rest or '.0'}")


def number_to_json(number: Fraction) -> int | float:
    """Return the plainest JSON number for `number`."""
    return int(number) if number.denominator == 1 else float(number)


def brief_to_dict(brief: Brief) -> dict[str, object]:
    """Return `brief` as brief.toml would hold it, without keys that say nothing."""
    data: dict[str, object] = {
        "title": brief.title,
        "minutes": number_to_json(brief.minutes),
        "intention": str(brief.intention),
        "level": brief.level,
        "refrains": brief.refrains,
        "main_regions": list(brief.main_regions),
        "avoid_regions": list(brief.avoid_regions),
        "spare": [str(c) for c in brief.spare],
        "stretch": brief.stretch,
        "positions": [str(p) for p in brief.positions],
        "cautions": list(brief.cautions),
        "open_minutes": number_to_json(brief.open_minutes),
        "seed": brief.seed,
        "bpm": None if brief.bpm is None else number_to_json(brief.bpm),
        "track": brief.track,
        "names": str(brief.names),
        "language": None if brief.language is None else str(brief.language),
        "character": None if brief.character is None else str(brief.character),
        "prefer": list(brief.prefer),
        "without": [str(layer) for layer in brief.without],
        "trained": brief.trained,
        "keep": [_keep_to_dict(k) for k in brief.keep],
    }
    return {k: v for k, v in data.items() if v is not None and v != []}


def _keep_to_dict(keep: Keep) -> Mapping[str, object]:
    at = keep.at_seconds
    clock = None
    if at is not None:
        minutes, seconds = divmod(at, 60)
        whole, rest = divmod(seconds, 1)
        clock = f"{minutes}:{int(whole):02d}"
        if rest:
            clock += f"{float(rest):.3f}"[1:]
    data: dict[str, object | None] = {
        "technique": keep.technique,
        "at": clock,
        "minutes": None if keep.minutes is None else number_to_json(keep.minutes),
        "side": None if keep.side is None else str(keep.side),
        "pressure": keep.pressure,
    }
    return {k: v for k, v in data.items() if v is not None}
