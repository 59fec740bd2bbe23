"""Heard tracks for tests: written by hand, drawn at random, or the truth of a made-up one."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import pairwise

from hypothesis import strategies as st

from ambient_forms import make_form
from ambient_tracks import truth_of
from rondel.model.brief import Brief
from rondel.model.track import Course, Heard, Section, Span
from rondel.model.words import Intention


def brief_of(minutes: float | Fraction, intention: str = "settle", **wishes: object) -> Brief:
    return Brief(
        title="On a track",
        minutes=Fraction(minutes).limit_denominator(100),
        intention=Intention(intention),
        level=2,
        track="music/dusk.flac",
        **wishes,  # type: ignore[arg-type]
    )


def ambient(seed: int, seconds: float) -> Heard:
    """Return what a perfect listener hears in a made-up ambient track."""
    return truth_of(make_form(seed, seconds))


def steady(
    seconds: float,
    bpm: float = 60.0,
    beats_per_bar: int = 4,
    first: float = 0.0,
    sections: tuple[tuple[float, float], ...] = (),
    **more: object,
) -> Heard:
    """Return a track of one tempo whose first beat begins a bar; `sections` are (start, energy),
    the last one up to the end."""
    count = int((seconds - first) * bpm / 60 + 1e-9)
    beats = tuple(first + 60 / bpm * i for i in range(count + 1) if first + 60 / bpm * i < seconds)
    ends = [start for start, _ in sections[1:]] + [seconds] * bool(sections)
    return Heard(
        seconds=seconds,
        bpm=bpm,
        is_constant=True,
        beats_per_bar=beats_per_bar,
        beats=beats,
        downbeats=beats[::beats_per_bar],
        sections=tuple(
            Section(span=Span(start=start, end=end), energy=energy, has_beat=True)
            for (start, energy), end in zip(sections, ends, strict=True)
        ),
        confidence=0.9,
        **more,  # type: ignore[arg-type]
    )


@st.composite
def heards(draw: st.DrawFn) -> Heard:
    """Draw a track of one to sixteen minutes with anything in it, its tempo steady or drifting."""
    per_bar = draw(st.sampled_from((2, 3, 4, 4, 4, 6)))
    bpm, wander = draw(st.floats(25, 180)), draw(st.sampled_from((0.0, 0.0, 0.03)))
    seconds, first = draw(st.floats(60, 960)), draw(st.floats(0, 4))
    beats, at, number = [], first, 0
    while at < seconds:
        beats.append(at)
        at += 60 / bpm * (1 + wander * math.sin(number / 17))
        number += 1
    downbeats = tuple(beats[::per_bar])
    cuts = sorted(draw(st.sets(st.sampled_from(downbeats[1:]), max_size=9)))
    bounds = [0.0, *(cut for cut in cuts if cut > 0), seconds]
    sections = tuple(
        Section(
            span=Span(start=start, end=end),
            energy=draw(st.sampled_from((0.0, 0.2, 0.4, 0.6, 0.85, 1.0))),
            has_beat=draw(st.booleans()),
        )
        for start, end in pairwise(bounds)
    )
    some = draw(st.sets(st.sampled_from(downbeats), max_size=6))
    return Heard(
        seconds=seconds,
        bpm=bpm,
        is_constant=not wander,
        beats_per_bar=per_bar,
        beats=tuple(beats),
        downbeats=downbeats,
        beatless=tuple(s.span for s in sections if not s.has_beat),
        sections=sections,
        returns=tuple(Span(start=s, end=s + 5) for s in sorted(some)),
        rises=tuple(Span(start=max(0.0, cut - 6), end=cut) for cut in cuts[::2] if cut > 0),
        confidence=0.8,
    )


def track_second(course: Course, second: float) -> float | None:
    """Return which second of the track is heard at `second` of the session; None in a tail."""
    for piece in course.pieces:
        if piece.at - 1e-6 <= second < piece.end - 1e-6:
            return piece.source.start + second - piece.at
    return None
