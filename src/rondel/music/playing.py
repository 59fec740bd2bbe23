"""A brought track played as its course says: stretch after stretch, joined without a click.

At a join the next stretch comes in over about a beat, and stands alone just before its downbeat, so
that the downbeat is heard once and clean. The two cross at one loudness, whatever they share.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from rondel.model.track import Piece
from rondel.music.instruments.tone import RATE, Stereo, raised

#: The crossing is over this long before the downbeat: the attack of a tone begins before its beat
#: is felt (common practice, no source).
CLEAR_SECONDS = 0.02
#: A crossing is about a beat, within these bounds (common practice, no source).
SHORTEST_CROSSING, LONGEST_CROSSING = 0.25, 1.5
#: Where the track is cut in or out with nothing beside it, this keeps it from clicking.
EDGE_SECONDS = 0.02
START_SECONDS = 0.001
#: Pieces that meet within this are one: nothing is cut between them.
MEETS_SECONDS = 0.0005

CHUNK = RATE

#: Gives the track's own sound from one of its frames on, (frames, 2) at 48 kHz, to its end.
OpenAt = Callable[[int], Iterator[Stereo]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Session frames `start` to `end` of the track, which stands at its frame `source` there.

    It comes in over `rise` frames that end at `start` where it `crosses` the one before it, or
    begin there; it goes over the last `fall` frames.
    """

    start: int
    end: int
    source: int
    rise: int
    fall: int
    crosses: bool = False

    @property
    def first(self) -> int:
        """The session frame from which anything of it is heard."""
        return self.start - self.rise if self.crosses else self.start


def stretches(
    pieces: Sequence[Piece],
    beat_seconds_at: Callable[[float], float],
    frames: int,
    fade_seconds: float,
) -> tuple[Stretch, ...]:
    """Return how `pieces` are played in a session of `frames`; the last fades over `fade_seconds`.

    `beat_seconds_at` tells the length of a beat at a second of the session. What would sound after
    the session's end, or under the piece that follows, is left out.
    """
    edge = round(EDGE_SECONDS * RATE)
    found: list[Stretch] = []
    for piece in _merged(pieces):
        start, end = round(piece.at * RATE), min(round(piece.end * RATE), frames)
        source = round(piece.source.start * RATE)
        if start < 0:  # what lies before the session's beginning is not heard
            start, source = 0, source - start
        if start >= end:
            continue
        # The track's own beginning is as it was recorded, but for a step that would click.
        rise = edge if source else round(START_SECONDS * RATE)
        stretch = Stretch(start=start, end=end, source=source, rise=rise, fall=edge)
        if found and found[-1].end > start - edge:
            found[-1], stretch = _joined(found[-1], stretch, beat_seconds_at(piece.at))
        found.append(stretch)
    if found:
        last = found[-1]
        fall = max(edge, round(fade_seconds * RATE))
        found[-1] = replace(last, fall=min(fall, last.end - last.start))
    return tuple(found)


def _merged(pieces: Sequence[Piece]) -> list[Piece]:
    """Return the pieces with those that go on where the one before stops made one."""
    found: list[Piece] = []
    for piece in sorted(pieces, key=lambda p: p.at):
        before = found[-1] if found else None
        if (
            before is not None
            and abs(before.end - piece.at) <= MEETS_SECONDS
            and abs(before.source.end - piece.source.start) <= MEETS_SECONDS
        ):
            found[-1] = replace(before, source=replace(before.source, end=piece.source.end))
        else:
            found.append(piece)
    return found


def _joined(before: Stretch, after: Stretch, beat: float) -> tuple[Stretch, Stretch]:
    """Let `before` go and `after` come over the same frames, which end before the downbeat."""
    clear = min(round(CLEAR_SECONDS * RATE), after.source, (after.start - before.start) // 2)
    wanted = round(min(max(beat, SHORTEST_CROSSING), LONGEST_CROSSING) * RATE)
    at, source = after.start - clear, after.source - clear
    crossing = max(0, min(wanted, source, (at - before.start) // 2))
    return (
        replace(before, end=at, fall=crossing),
        replace(after, start=at, source=source, rise=crossing, crosses=True),
    )


class _Reader:
    """Takes exact counts of frames from the track; silence past its end."""

    def __init__(self, blocks: Iterator[Stereo]) -> None:
        self._blocks = blocks
        self._rest = np.zeros((0, 2), dtype=np.float32)

    def take(self, frames: int) -> Stereo:
        parts, needed = [self._rest], frames - len(self._rest)
        while needed > 0:
            block = next(self._blocks, None)
            if block is None:
                block = np.zeros((needed, 2), dtype=np.float32)
            parts.append(block)
            needed -= len(block)
        sound = np.concatenate(parts)
        self._rest = sound[frames:].copy()
        return sound[:frames].copy()


def played(course: Sequence[Stretch], frames: int, open_at: OpenAt) -> Iterator[Stereo]:
    """Yield the session's `frames` of the track in order, in blocks of a second at most."""
    at = 0
    reader: _Reader | None = None
    for index, stretch in enumerate(course):
        after = course[index + 1] if index + 1 < len(course) else None
        if reader is None:
            yield from _silence(stretch.start - at)
            reader = _Reader(open_at(stretch.source))
            yield from _solid(reader, stretch, stretch.start, _solid_end(stretch, after))
        else:
            yield from _solid(reader, stretch, stretch.start, _solid_end(stretch, after))
        at = _solid_end(stretch, after)
        if after is not None and after.crosses:
            coming = _Reader(open_at(after.source - after.rise))
            if after.rise:
                yield crossed(reader.take(after.rise), coming.take(after.rise))
            reader, at = coming, after.start
        else:
            reader = None
    yield from _silence(frames - at)


def _solid_end(stretch: Stretch, after: Stretch | None) -> int:
    """Return the frame up to which `stretch` is alone."""
    return stretch.end - stretch.fall if after is not None and after.crosses else stretch.end


def _silence(frames: int) -> Iterator[Stereo]:
    for at in range(0, frames, CHUNK):
        yield np.zeros((min(CHUNK, frames - at), 2), dtype=np.float32)


def _solid(reader: _Reader, stretch: Stretch, start: int, end: int) -> Iterator[Stereo]:
    """Yield frames `start` to `end` of a stretch, with its rise and fall where it has its own."""
    for at in range(start, end, CHUNK):
        sound = reader.take(min(CHUNK, end - at))
        places = np.arange(at, at + len(sound))
        if not stretch.crosses and at < stretch.start + stretch.rise:
            sound *= _ramp(places - stretch.start, stretch.rise)[:, None]
        if at + len(sound) > stretch.end - stretch.fall:
            sound *= _ramp(stretch.end - 1 - places, stretch.fall)[:, None]
        yield sound


def _ramp(since: NDArray[np.int64], frames: int) -> NDArray[np.float32]:
    """Return a half cosine from 0 to 1 over `frames`, 1 after it."""
    share = np.clip((since + 0.5) / max(frames, 1), 0.0, 1.0)
    return (0.5 - 0.5 * np.cos(np.pi * share)).astype(np.float32)


def crossed(going: Stereo, coming: Stereo) -> Stereo:
    """Return two sounds of one length, the one going, the other coming, at one loudness.

    Sounds that have nothing in common keep their power when their gains' squares add up to 1; what
    they do have in common would swell there, so it is taken off.
    """
    share = np.sqrt(raised(len(going)).astype(np.float64))
    fall = share[::-1]
    alike = _likeness(going, coming)
    level = 1.0 / np.sqrt(1.0 + 2.0 * alike * share * fall)
    mixed = going * (fall * level)[:, None] + coming * (share * level)[:, None]
    return np.asarray(mixed, dtype=np.float32)


def _likeness(one: Stereo, other: Stereo) -> float:
    """Return how much two sounds have in common, 0 to 1: their correlation, where it is above 0."""
    power = float(
        np.sqrt((one.astype(np.float64) ** 2).sum() * (other.astype(np.float64) ** 2).sum())
    )
    if power <= 0:
        return 0.0
    return min(1.0, max(0.0, float((one.astype(np.float64) * other).sum()) / power))


@dataclass(kw_only=True)
class InOrder:
    """A layer whose blocks can only be asked for one after the other, without a gap."""

    name: str
    sound: Iterator[Stereo]
    gain: float = 1.0
    _reader: _Reader = field(init=False)
    _at: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        self._reader = _Reader(self.sound)

    def block(self, start: int, frames: int) -> Stereo:
        """Return frames `start` to `start + frames`; `start` is where the last block ended."""
        if start != self._at:
            raise ValueError("the blocks of this layer come in order")
        self._at += frames
        return self._reader.take(frames) * np.float32(self.gain)
