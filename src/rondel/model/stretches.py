"""Sets of spans: what lies in one or the other, and what is left when some are taken away."""

from __future__ import annotations

from collections.abc import Iterable

from rondel.model.track import Span


def joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Return the seconds that lie in any of `spans`, as spans in order that do not touch."""
    rows: list[tuple[float, float]] = []
    for span in sorted(spans, key=lambda s: s.start):
        if rows and span.start <= rows[-1][1]:
            rows[-1] = (rows[-1][0], max(rows[-1][1], span.end))
        else:
            rows.append((span.start, span.end))
    return tuple(Span(start=start, end=end) for start, end in rows)


def less(spans: Iterable[Span], away: Iterable[Span]) -> tuple[Span, ...]:
    """Return the seconds of `spans` that lie in none of `away`."""
    left = list(joined(spans))
    for gone in joined(away):
        left = [piece for span in left for piece in _less_one(span, gone)]
    return tuple(left)


def _less_one(span: Span, gone: Span) -> Iterable[Span]:
    if span.start < min(span.end, gone.start):
        yield Span(start=span.start, end=min(span.end, gone.start))
    if max(span.start, gone.end) < span.end:
        yield Span(start=max(span.start, gone.end), end=span.end)


def shared_seconds(span: Span, others: Iterable[Span]) -> float:
    """Return how much of `span` lies in any of `others`."""
    pieces = ((max(span.start, o.start), min(span.end, o.end)) for o in joined(others))
    return sum(max(0.0, end - start) for start, end in pieces)
