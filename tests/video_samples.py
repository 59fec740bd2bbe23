"""A small routine, a click track and readers of MP4 files, for the checks of the video."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from rondel.adapters.craft_files import builtin_craft
from rondel.drawing.frames.layout import LANDING_CENTRE
from rondel.model.repertoire import Craft, Technique
from rondel.model.routine import Passage, Routine
from rondel.model.time import Tempo
from rondel.model.words import Family, Layer, Position, Role, Side

RATE = 48_000


def first_of(craft: Craft, **wanted: object) -> Technique:
    """Return the first technique whose fields are as wanted and that may be done face down."""
    for technique in craft.techniques:
        if Position.PRONE in technique.position and all(
            getattr(technique, name) == value for name, value in wanted.items()
        ):
            return technique
    raise LookupError(f"no technique with {wanted}")


def passage(
    id: str, technique: str | None, role: Role, side: Side, start: int, bars: int, **more: object
) -> Passage:
    """Return a passage at pressure 2 whose strokes last two beats and land on the second."""
    fields: dict[str, object] = {
        "pressure": 2,
        "beats_per_stroke": Fraction(2),
        "first_landing_beat": Fraction(1),
        "layer": Layer.ONLY,
        **more,
    }
    return Passage(
        id=id,
        technique=technique,
        role=role,
        side=side,
        position=Position.PRONE,
        start_bar=start,
        bars=bars,
        **fields,  # type: ignore[arg-type]
    )


def small_routine(pressure: int = 2) -> tuple[Routine, Craft]:
    """Return 18 bars of 4/4 whose tempo changes: every role, both sides, an open passage.

    8 bars at 60 and 10 at 75 beats a minute: 32 + 32 = 64 seconds.
    """
    craft = builtin_craft()
    glide = first_of(craft, family=Family.GLIDING, lateral=False).id
    knead = first_of(craft, family=Family.KNEADING, lateral=True).id
    hold = first_of(craft, family=Family.HOLDING, lateral=False).id
    half = Fraction(1, 2)
    passages = (
        passage("p01", glide, Role.ARRIVE, Side.BOTH, 0, 4, beats_per_stroke=Fraction(4)),
        passage("p02", knead, Role.WORK, Side.LEFT, 4, 2, pressure=pressure),
        passage("p03", knead, Role.WORK, Side.RIGHT, 6, 2, pressure=pressure),
        passage("p04", glide, Role.REFRAIN, Side.BOTH, 8, 2, beats_per_stroke=Fraction(4)),
        passage("p05", None, Role.OPEN, Side.BOTH, 10, 2),
        passage("p06", knead, Role.PEAK, Side.LEFT, 12, 2, pressure=3),
        passage(
            "p07",
            knead,
            Role.PEAK,
            Side.RIGHT,
            14,
            2,
            pressure=3,
            beats_per_stroke=half,
            first_landing_beat=Fraction(0),
        ),
        passage(
            "p08",
            hold,
            Role.CLOSE,
            Side.BOTH,
            16,
            2,
            beats_per_stroke=Fraction(8),
            first_landing_beat=Fraction(0),
        ),
    )
    tempo = (Tempo(bar=0, bpm=Fraction(60)), Tempo(bar=8, bpm=Fraction(75)))
    return (
        Routine(title="Sample", seed=1, beats_per_bar=4, tempo=tempo, bars=18, passages=passages),
        craft,
    )


def landing_seconds(routine: Routine) -> list[float]:
    """Return the second of every landing on the line, worked out from the passages alone."""
    beats = []
    for p in routine.line:
        if p.technique is not None:
            at = Fraction(p.start_bar * routine.beats_per_bar) + p.first_landing_beat
            while at < p.end_bar * routine.beats_per_bar:
                beats.append(at)
                at += p.beats_per_stroke
    return [float(routine.clock.exact_seconds_at(b)) for b in beats]


def click_track(path: Path, seconds: list[float], total: float) -> None:
    """Write an AAC file of `total` seconds with a click of 4 ms at each of `seconds`."""
    sound = np.zeros(round(total * RATE), np.float32)
    burst = np.sin(2 * np.pi * 3000 * np.arange(192) / RATE).astype(np.float32) * 0.8
    for at in seconds:
        start = round(at * RATE)
        end = min(start + len(burst), len(sound))
        sound[start:end] = burst[: end - start]
    with av.open(str(path), "w", format="mp4") as container:
        stream = container.add_stream("aac", rate=RATE)
        stream.bit_rate = 192_000
        stream.layout = "stereo"
        for first in range(0, len(sound), 1024):
            part = np.ascontiguousarray(np.stack([sound[first : first + 1024]] * 2))
            frame = av.AudioFrame.from_ndarray(part, format="fltp", layout="stereo")
            frame.rate = RATE
            frame.pts = first
            frame.time_base = Fraction(1, RATE)
            container.mux(stream.encode(frame))
        container.mux(stream.encode())


def heard_clicks(path: Path) -> list[float]:
    """Return the seconds at which clicks begin, in a player's time."""
    found: list[float] = []
    level: list[NDArray[np.float32]] = []
    start: float | None = None
    with av.open(str(path)) as container:
        for frame in container.decode(audio=0):
            if start is None:
                start = float(frame.time or 0.0)
            level.append(np.abs(frame.to_ndarray()[0]))
    sound = np.concatenate(level)
    loud = np.flatnonzero(sound > 0.3)
    for at in loud:
        second = (start or 0.0) + float(at) / RATE
        if not found or second - found[-1] > 0.05:
            found.append(second)
    return found


@dataclass(frozen=True, slots=True)
class Look:
    """What was seen in a finished video: the second of every frame, and the mark's darkness."""

    seconds: NDArray[np.float64]
    luma: NDArray[np.float64]


def look_at_mark(path: Path, scale: float = 1.0) -> Look:
    """Return the mean luma of the square of 16 pixels round the landing mark, frame by frame."""
    x, y = (round(v * scale) for v in LANDING_CENTRE)
    reach = round(8 * scale)
    seconds, luma = [], []
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            plane = frame.planes[0]
            rows = np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
            seconds.append(float(frame.time or 0.0))
            luma.append(float(rows[y - reach : y + reach, x - reach : x + reach].mean()))
    return Look(np.array(seconds), np.array(luma))


def marked_landings(look: Look) -> list[float]:
    """Return the second of every frame in which the mark falls sharply."""
    fall = look.luma[:-1] - look.luma[1:]
    sharp = np.flatnonzero(fall > 25.0) + 1
    starts = [0] if look.luma[0] < 100.0 else []
    return [float(look.seconds[i]) for i in [*starts, *sharp]]


@dataclass(frozen=True, slots=True)
class Atom:
    """A box of an ISO base media file: its four letters, where it begins, and what it holds."""

    kind: str
    offset: int
    data: bytes

    def inside(self) -> tuple[Atom, ...]:
        return tuple(atoms(self.data))


def atoms(data: bytes) -> Iterator[Atom]:
    """Give the boxes of `data`: 32-bit size, type, then content (ISO/IEC 14496-12, 4.2).

    Size 1 means that a 64-bit size follows the type, size 0 that the box goes to the end.
    """
    at = 0
    while at + 8 <= len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        header = 8
        if size == 1:
            size, header = struct.unpack_from(">Q", data, at + 8)[0], 16
        elif size == 0:
            size = len(data) - at
        if size < header:
            raise ValueError(f"a box of {size} bytes at {at}")
        yield Atom(kind.decode("latin-1"), at, data[at + header : at + size])
        at += size


def find(data: bytes, *path: str) -> tuple[Atom, ...]:
    """Return all boxes at the end of `path`."""
    found = tuple(a for a in atoms(data) if a.kind == path[0])
    if len(path) == 1:
        return found
    return tuple(deep for a in found for deep in find(a.data, *path[1:]))
