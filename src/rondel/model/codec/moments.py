"""Moments and spans of a track as a teacher writes them: "1:02.5" and "1:02-1:18"."""

from __future__ import annotations

import re

from rondel.model.track import Span

_MOMENT = re.compile(r"(?:(?:([0-9]{1,3}):)?([0-9]{1,3}):)?([0-9]{1,6}(?:\.[0-9]{1,9})?)")
_SPAN = re.compile(r"\s*([\d:.]+)\s*[-–]\s*([\d:.]+)\s*")

MOMENT_SAYS = 'must be a time, as in "1:02.5" or "62.5"'
SPAN_SAYS = 'must be from one time to a later one, as in "1:02-1:18"'


def moment(text: str) -> float:
    """Return the seconds, to the thousandth, of "h:mm:ss.s", "m:ss.s" or "s.s"; else ValueError.

    >>> moment("1:02.5")
    62.5
    """
    match = _MOMENT.fullmatch(text.strip())
    if match is None:
        raise ValueError(MOMENT_SAYS)
    hours, minutes, seconds = match.groups()
    is_over = (minutes is not None and float(seconds) >= 60) or (hours and int(minutes) >= 60)
    if is_over:
        raise ValueError(MOMENT_SAYS)
    return round(int(hours or 0) * 3600 + int(minutes or 0) * 60 + float(seconds), 3)


def moment_says(seconds: float) -> str:
    """Return `seconds` as "m:ss", with as much of a thousandth as it has.

    >>> moment_says(62.5)
    '1:02.5'
    """
    thousandths = round(seconds * 1000)
    minutes, rest = divmod(thousandths, 60_000)
    whole, parts = divmod(rest, 1000)
    return f"{minutes}:{whole:02d}" + (f".{parts:03d}".rstrip("0") if parts else "")


def span_of(text: str) -> Span:
    """Return the span of "1:02-1:18"; ValueError where it is none."""
    match = _SPAN.fullmatch(text)
    if match is None:
        raise ValueError(SPAN_SAYS)
    start, end = moment(match[1]), moment(match[2])
    if not start < end:
        raise ValueError(SPAN_SAYS)
    return Span(start=start, end=end)


def span_says(span: Span) -> str:
    """Return `span` as it is written in a file or a command."""
    return f"{moment_says(span.start)}-{moment_says(span.end)}"
