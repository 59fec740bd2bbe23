"""A short routine, and a take made up for it, for the checks of film."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from rondel.drawing.frames.film import Film, Source
from rondel.drawing.frames.script import Script
from rondel.fitting.named import NamedTake
from rondel.fitting.passages import fit_passage
from rondel.model.repertoire import Craft
from rondel.model.routine import Passage, Routine
from rondel.model.shots import FittedPassage
from rondel.model.take import MotionKind, Seen, SeenStretch
from rondel.model.track import Span
from video_samples import small_routine


def filmed_passage(routine: Routine) -> Passage:
    """Return the passage of the sample with the most strokes: quick ones, after all the cards."""
    return max((p for p in routine.line if not p.is_open), key=lambda p: len(routine.landings(p)))


def seen_as(
    technique: str | None, landings: tuple[float, ...], seconds: float, fps: float = 25.0
) -> Seen:
    """Return what would be seen in a take with just these landings."""
    stretch = SeenStretch(
        span=Span(start=0.0, end=seconds),
        kind=MotionKind.ALTERNATE,
        landings=landings,
        period=landings[1] - landings[0],
        confidence=1.0,
        technique=technique,
    )
    return Seen(seconds=seconds, fps=fps, width=640, height=360, stretches=(stretch,))


def source_of(path: Path, seconds: float, cuts: tuple[float, ...] = ()) -> Source:
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    return Source(path=str(path), digest=digest, seconds=seconds, cuts=cuts)


def sample() -> tuple[Routine, Craft, Passage]:
    """Return the sample, its craft, and the passage that is filmed."""
    routine, craft = small_routine()
    routine = replace(routine, title="Harbour Evening")
    return routine, craft, filmed_passage(routine)


ROUTINE, CRAFT, PASSAGE = sample()


@cache
def fitted() -> FittedPassage:
    """Return the passage fitted from strokes that are 12 percent off in time and uneven.

    They fill the first 24 seconds of `take.mp4`.
    """
    beats = [float(ROUTINE.clock.seconds_at(b)) for b in ROUTINE.landings(PASSAGE)]
    dice = np.random.default_rng(3)
    steps = float(np.median(np.diff(beats))) * 0.9 * (1 + 0.12 * dice.uniform(-1, 1, 60))
    landings = tuple((1.0 + np.cumsum(steps)).tolist())
    assert landings[-1] < 24
    seen = seen_as(PASSAGE.technique, landings, 25.0)
    return fit_passage(ROUTINE, PASSAGE, [NamedTake(name="take.mp4", seen=seen)])


def film_of(take: Path, seconds: float) -> Film:
    """Return the film of the session in which the passage is filmed by `take`."""
    return Film(Script(ROUTINE, CRAFT), [fitted()], {"take.mp4": source_of(take, seconds)})
