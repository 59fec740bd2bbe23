"""`<name>.strokes.json`: what was seen in a take, and what `rondel watch --json` prints."""

from __future__ import annotations

from collections.abc import Iterable

from rondel.model.codec.fields import Fields
from rondel.model.take import Fault, FaultSpan, MotionKind, Seen, SeenStretch
from rondel.model.track import Span
from rondel.model.words import Side


def seen_to_dict(seen: Seen) -> dict[str, object]:
    """Return `seen` as JSON data: seconds from the take's first picture; keys in a fixed order."""
    return {
        "fps": seen.fps,
        "seconds": seen.seconds,
        "width": seen.width,
        "height": seen.height,
        "period": seen.period,
        "confidence": seen.confidence,
        "slips": _pairs(seen.slips),
        "pauses": _pairs(seen.pauses),
        **({"away": _pairs(seen.away)} if seen.away else {}),
        "cuts": list(seen.cuts),
        "faults": [{"span": [f.span.start, f.span.end], "fault": f.fault} for f in seen.faults],
        "stretches": [_stretch_to_dict(one) for one in seen.stretches],
        **({"side": seen.side} if seen.side else {}),
        **({"angle": seen.angle} if seen.angle else {}),
        "strokes": list(seen.strokes),
        "curve": list(seen.curve),
    }


def _pairs(spans: Iterable[Span]) -> list[list[float]]:
    return [[span.start, span.end] for span in spans]


def _stretch_to_dict(one: SeenStretch) -> dict[str, object]:
    return {
        "start": one.span.start,
        "end": one.span.end,
        "kind": one.kind,
        "period": one.period,
        "confidence": one.confidence,
        "slips": _pairs(one.slips),
        "pauses": _pairs(one.pauses),
        "landings": list(one.landings),
        "eighths": list(one.eighths),
        **({"technique": one.technique} if one.technique else {}),
    }


def seen_from_dict(data: object, *, at: str = "strokes.json") -> Seen:
    """Return what `data` says was seen; BadInput naming the key. Unknown keys are left alone."""
    f = Fields(data, at=at)
    stretches = tuple(_stretch(one) for one in f.tables("stretches"))
    faults = tuple(
        FaultSpan(span=_span(one, "span"), fault=one.choice("fault", Fault))
        for one in f.tables("faults")
    )
    return f.build(
        lambda: Seen(
            seconds=float(f.number("seconds", low=0)),
            fps=float(f.number("fps", low=0)),
            width=f.whole("width", low=1),
            height=f.whole("height", low=1),
            stretches=stretches,
            away=_spans(f, "away"),
            cuts=f.numbers("cuts", low=0),
            faults=faults,
            curve=f.numbers("curve", low=-1, high=1),
            side=None if f.raw("side") is None else f.choice("side", Side),
            angle=f.maybe_text("angle"),
        )
    )


def _stretch(f: Fields) -> SeenStretch:
    start, end = float(f.number("start", low=0)), float(f.number("end", low=0))
    return f.build(
        lambda: SeenStretch(
            span=Span(start=start, end=end),
            kind=f.choice("kind", MotionKind),
            period=float(f.number("period", low=0)),
            confidence=float(f.number("confidence", low=0, high=1)),
            slips=_spans(f, "slips"),
            pauses=_spans(f, "pauses"),
            landings=f.numbers("landings", low=0),
            eighths=f.numbers("eighths", low=0),
            technique=f.maybe_text("technique"),
        )
    )


def _spans(f: Fields, key: str) -> tuple[Span, ...]:
    for start, end in f.pairs(key):
        if not 0 <= start < end:
            raise f.fail(key, f"from {start} to {end} is no span of time")
    return tuple(Span(start=start, end=end) for start, end in f.pairs(key))


def _span(f: Fields, key: str) -> Span:
    start, end = (float(value) for value in f.pair(key))
    if not 0 <= start < end:
        raise f.fail(key, f"from {start} to {end} is no span of time")
    return Span(start=start, end=end)
