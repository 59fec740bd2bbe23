"""`<track>.heard.json`: what was heard in a track, and what `rondel listen --json` prints."""

from __future__ import annotations

from collections.abc import Iterable

from rondel.model.codec.fields import Fields
from rondel.model.track import Heard, OtherTempo, Section, Span


def heard_to_dict(heard: Heard) -> dict[str, object]:
    """Return `heard` as JSON data: seconds from the start of the track; keys in a fixed order."""
    return {
        "bpm": heard.bpm,
        "is_constant": heard.is_constant,
        "beats_per_bar": heard.beats_per_bar,
        "seconds": heard.seconds,
        "confidence": heard.confidence,
        "loudness": heard.loudness,
        "true_peak": heard.true_peak,
        "beatless": _pairs(heard.beatless),
        "unsure": _pairs(heard.unsure),
        "sections": [_section_to_dict(section) for section in heard.sections],
        "returns": _pairs(heard.returns),
        "rises": _pairs(heard.rises),
        "motif_guesses": _pairs(heard.motif_guesses),
        "others": [_other_to_dict(other) for other in heard.others],
        "shape": list(heard.shape),
        "downbeats": list(heard.downbeats),
        "beats": list(heard.beats),
    }


def _pairs(spans: Iterable[Span]) -> list[list[float]]:
    return [[span.start, span.end] for span in spans]


def _section_to_dict(section: Section) -> dict[str, object]:
    return {
        "start": section.span.start,
        "end": section.span.end,
        "energy": section.energy,
        "has_beat": section.has_beat,
    }


def _other_to_dict(other: OtherTempo) -> dict[str, object]:
    return {
        "bpm": other.bpm,
        "beats_per_bar": other.beats_per_bar,
        "confidence": other.confidence,
        "says": other.says,
    }


def heard_from_dict(data: object, *, at: str = "heard.json") -> Heard:
    """Return what `data` says was heard; BadInput naming the key. Unknown keys are left alone.

    Where the length of the track is not told, it is taken to end with what was heard last.
    """
    f = Fields(data, at=at)
    sections = tuple(_section(s) for s in f.tables("sections"))
    beats = f.numbers("beats", low=0)
    loudness, peak = f.raw("loudness"), f.raw("true_peak")
    last = max([0.0, *beats[-1:], *(section.span.end for section in sections)])
    return f.build(
        lambda: Heard(
            seconds=float(f.number("seconds", last, low=0)),
            bpm=float(f.number("bpm", low=0)),
            is_constant=f.flag("is_constant", False),
            beats_per_bar=f.whole("beats_per_bar", 4, low=1, high=16),
            beats=beats,
            downbeats=f.numbers("downbeats", low=0),
            beatless=_spans(f, "beatless"),
            unsure=_spans(f, "unsure"),
            sections=sections,
            returns=_spans(f, "returns"),
            rises=_spans(f, "rises"),
            others=tuple(_other(o) for o in f.tables("others")),
            loudness=None if loudness is None else float(f.number("loudness")),
            true_peak=None if peak is None else float(f.number("true_peak")),
            confidence=float(f.number("confidence", 0, low=0, high=1)),
            shape=f.numbers("shape", low=0, high=1),
            motif_guesses=_spans(f, "motif_guesses"),
        )
    )


def _spans(f: Fields, key: str) -> tuple[Span, ...]:
    pairs = f.pairs(key)
    for start, end in pairs:
        if not 0 <= start < end:
            raise f.fail(key, f"from {start} to {end} is no span of time")
    return tuple(Span(start=start, end=end) for start, end in pairs)


def _section(f: Fields) -> Section:
    return f.build(
        lambda: Section(
            span=Span(start=float(f.number("start", low=0)), end=float(f.number("end"))),
            energy=float(f.number("energy", low=0, high=1)),
            has_beat=f.flag("has_beat"),
        )
    )


def _other(f: Fields) -> OtherTempo:
    return OtherTempo(
        bpm=float(f.number("bpm", low=0)),
        beats_per_bar=f.whole("beats_per_bar", 4, low=1, high=16),
        confidence=float(f.number("confidence", 0, low=0, high=1)),
        says=f.text("says", ""),
    )
