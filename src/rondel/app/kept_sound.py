"""The sound that takes were filmed with, kept low under the music where a teacher asks for it.

It follows the picture: it is played as fast as its film, and sounds where film is shown.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from rondel.app.mix_sound import spans_of
from rondel.app.ports.tracks import Tracks
from rondel.drawing.frames.film import Film, Source
from rondel.drawing.frames.layout import FRAMES_PER_SECOND
from rondel.drawing.frames.script import Script
from rondel.model.errors import BadInput
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.model.shots import FittedPassage, TimeMap
from rondel.music.instruments.tone import RATE, Stereo
from rondel.music.playing import InOrder
from rondel.music.weighing import Weigher, integrated

NAME = "takes"
#: So far under the music it is heard without taking part in it, LU (common practice, no source).
UNDER_MUSIC_LU = 15.0
#: A quiet room is left quiet.
MOST_GAIN_DB = 20.0
#: Every piece comes and goes in so many seconds.
FADE_SECONDS = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPiece:
    """The sound of one shot, from `start` to `end` seconds of the session; `map` says which second
    of the take, a file at `path`, each of them shows."""

    take: str
    path: Path
    digest: str
    start: float
    end: float
    map: TimeMap


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSound:
    """What is kept of the takes' own sound, in order; `tracks` reads it."""

    pieces: tuple[KeptPiece, ...] = ()
    tracks: Tracks | None = None

    @property
    def told(self) -> list[object]:
        """All that decides what is heard of it, as plain JSON data."""
        return [[p.digest, p.start, p.end, p.map.at, p.map.shows] for p in self.pieces]


NOTHING_KEPT = KeptSound()


@dataclass(kw_only=True)
class KeptLayer:
    """The sound of all pieces as a layer of the session, with the notes of reading it."""

    kept: KeptSound
    frames: int
    silences: Sequence[tuple[float, float]]
    notes: dict[str, str] = field(default_factory=dict)

    def gain(self, music_lufs: float) -> float:
        """Return the factor that brings it UNDER_MUSIC_LU below music of that loudness."""
        weigher, layer = Weigher(), self.layer(1.0)
        heard = integrated(
            np.concatenate([weigher.add(layer.block(*span)) for span in spans_of(self.frames)])
        )
        return float(10 ** (min(music_lufs - UNDER_MUSIC_LU - heard, MOST_GAIN_DB) / 20))

    def layer(self, gain: float) -> InOrder:
        """Return it from the beginning of the session on."""
        return InOrder(name=NAME, sound=self._sound(), gain=gain)

    def _sound(self) -> Iterator[Stereo]:
        at = 0
        for piece in self.kept.pieces:
            first = max(at, round(piece.start * RATE))
            past = min(self.frames, round(piece.end * RATE))
            if past <= first or piece.take in self.notes:
                continue
            try:
                block = self._block(piece, first, past)
            except BadInput as error:
                self.notes[piece.take] = f"The sound of {piece.take} is left out: {error.says}."
                continue
            yield from _quiet(first - at)
            yield block
            at = past
        yield from _quiet(self.frames - at)

    def _block(self, piece: KeptPiece, first: int, past: int) -> Stereo:
        """Return frames of the session as the take sounds there."""
        seconds = np.arange(first, past) / RATE
        shown = np.interp(seconds, piece.map.at, piece.map.shows)
        low = max(0, int(shown[0] * RATE))
        sound = _read(self.kept.tracks, piece.path, low, int(shown[-1] * RATE) + 2)
        at = shown * RATE - low
        played = np.stack(
            [np.interp(at, np.arange(len(sound)), side, right=0.0) for side in sound.T], axis=1
        )
        edge = min(FADE_SECONDS, (past - first) / RATE / 2)
        volume = np.interp(
            seconds, [seconds[0], seconds[0] + edge, seconds[-1] - edge, seconds[-1]], [0, 1, 1, 0]
        )
        for start, end in self.silences:
            edges = [start - FADE_SECONDS, start, end, end + FADE_SECONDS]
            volume *= np.interp(seconds, edges, [1, 0, 0, 1])
        return np.asarray(played * volume[:, None], dtype=np.float32)


def _read(tracks: Tracks | None, path: Path, first: int, past: int) -> Stereo:
    """Return frames from `first` up to `past` of a take's sound; fewer where it ends sooner."""
    parts: list[Stereo] = []
    at = 0
    for (block,) in tracks.blocks(path, (RATE,)) if tracks is not None else ():
        low, high = max(first - at, 0), min(past - at, len(block))
        if low < high:
            parts.append(block[low:high])
        at += len(block)
        if at >= past:
            break
    return np.concatenate(parts) if parts else np.zeros((1, 2), dtype=np.float32)


def _quiet(frames: int) -> Iterator[Stereo]:
    if frames > 0:
        yield np.zeros((frames, 2), dtype=np.float32)


def kept_pieces(
    routine: Routine,
    craft: Craft,
    fitted: Sequence[FittedPassage],
    sources: Mapping[str, Source],
) -> tuple[KeptPiece, ...]:
    """Return the sound of all film of a routine: of every shot, where the wide video shows it."""
    film = Film(Script(routine, craft), fitted, sources)
    return tuple(
        KeptPiece(
            take=shot.take,
            path=Path(sources[shot.take].path),
            digest=sources[shot.take].digest,
            start=max(span.first / FRAMES_PER_SECOND, shot.map.at[0]),
            end=min(span.past / FRAMES_PER_SECOND, shot.map.at[-1]),
            map=shot.map,
        )
        for span in film.spans
        for shot in span.shots
    )
