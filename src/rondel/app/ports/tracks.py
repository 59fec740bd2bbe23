"""What the app asks of whatever reads the tracks that a teacher brings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from rondel.app.ports.sound import Block
from rondel.listening.features import Features
from rondel.model.corrections import Corrections
from rondel.model.track import Heard


class Tracks(Protocol):
    """Reads sound of any common kind, from mono to many channels, in memory that stays small.

    Every method raises BadInput, in a sentence, where the file is missing, is damaged or cut off,
    or holds no sound, and OutsideFailure where the disk cannot be read.
    """

    def seconds_told(self, path: Path) -> float:
        """Return how long the file says it lasts: exact, or a guess good enough for progress."""
        ...

    def blocks(self, path: Path, rates: tuple[int, ...]) -> Iterator[tuple[Block, ...]]:
        """Yield the whole track from its very start, folded to stereo, at each of `rates` (Hz).

        Every step gives one block (frames, 2) for each rate, in their order. The blocks of one
        rate follow each other without a gap, and those of different rates end at about the same
        second: within a twentieth of a second, and exactly alike at the end.
        """
        ...

    def digest(self, path: Path) -> str:
        """Return the SHA-256 of the file: another one is another track."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What was heard in a track, as it is kept beside it, and what that was made from.

    `heard` has the corrections in it; `first_bpm` and `first_beats_per_bar` are without them.
    `made_from` holds digests: of the track, of the corrections, of the way of listening.
    """

    heard: Heard
    first_bpm: float
    first_beats_per_bar: int
    made_from: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Listened:
    """All that is kept of a track's sound: its features, its loudness in LUFS and true peak in dBTP
    (None: it is silent), and what is heard in it when nobody has put anything right."""

    features: Features
    loudness: float | None
    true_peak: float | None
    first: Heard


class ListenedKept(Protocol):
    """Keeps what was listened to, so that a correction need not listen again. What is kept can be
    thrown away at any time, and is no other than what listening again would give."""

    def listened(self, track: str, way: str) -> Listened | None:
        """Return what is kept of the track with this digest, if the `way` of listening is the same;
        None where nothing is, or where it is damaged."""
        ...

    def keep(self, track: str, way: str, listened: Listened) -> None:
        """Keep what was listened to, whole or not at all; not at all where the disk is full."""

    def forget(self, track: str) -> bool:
        """Take away what is kept of the track; True where something was."""
        ...


class BesideTrack(Protocol):
    """The small files that lie beside a track: what was heard in it, and what was put right."""

    def kept(self, track: Path) -> Kept | None:
        """Return what is kept of `track`; None where nothing is that can be understood."""
        ...

    def keep(self, track: Path, kept: Kept) -> None:
        """Keep what was heard in `track`, whole or not at all."""

    def corrections(self, track: Path) -> Corrections:
        """Return what was put right in `track`; BadInput where the file of it has a slip."""
        ...

    def correct(self, track: Path, corrections: Corrections) -> None:
        """Write what was put right in `track`; where that is nothing, the file goes away."""
