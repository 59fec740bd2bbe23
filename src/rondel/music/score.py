"""What is composed: layers of notes on the routine's own beats."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from rondel.model.time import Clock


class LayerName(StrEnum):
    """The layers of composed music, from the ground up."""

    DRONE = "drone"
    PAD = "pad"
    BASS = "bass"
    STRINGS = "strings"
    PIANO = "piano"
    MOTIF = "motif"
    PULSE = "pulse"
    DRUM = "drum"
    SWELL = "swell"
    RISER = "riser"


#: Small liberties of touch never move a note further than this, in milliseconds.
MOST_NUDGE_MS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One tone. `start` counts beats from the start of the routine, `beats` is its length.

    `pitch` and `velocity` are those of the MIDI standard. `rise` is the time from its start, in
    beats, at which a swelling tone is fullest; None for tones that are fullest when struck.
    `nudge_ms` moves it by a hair from its beat.
    """

    start: Fraction
    beats: Fraction
    pitch: int
    velocity: int
    rise: Fraction | None = None
    nudge_ms: int = 0

    def __post_init__(self) -> None:
        checks = (
            (self.start >= 0, "a note starts at beat 0 or later"),
            (self.beats > 0, "a note lasts longer than nothing"),
            (0 <= self.pitch <= 127, "pitch must be 0 to 127"),
            (1 <= self.velocity <= 127, "velocity must be 1 to 127"),
            (self.rise is None or 0 <= self.rise <= self.beats, "rise lies within the note"),
            (abs(self.nudge_ms) <= MOST_NUDGE_MS, "a nudge is at most 8 ms"),
        )
        for holds, says in checks:
            if not holds:
                raise ValueError(says)

    @property
    def end(self) -> Fraction:
        return self.start + self.beats


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoreLayer:
    """The notes of one layer, in order of their starts."""

    name: LayerName
    notes: tuple[Note, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """A name at a beat, as where a passage begins."""

    beat: int
    text: str


@dataclass(frozen=True, kw_only=True)
class Score:
    """The composed music of one routine. A layer without notes is left out.

    `timbres` names the voice of each layer that has several; a layer without has its usual one.
    """

    title: str
    key: str
    clock: Clock
    layers: tuple[ScoreLayer, ...]
    markers: tuple[Marker, ...]
    heard: tuple[int, int]
    timbres: tuple[tuple[LayerName, str], ...] = ()

    def layer(self, name: LayerName) -> tuple[Note, ...]:
        """Return the notes of the layer `name`; none if it is not there."""
        return next((layer.notes for layer in self.layers if layer.name == name), ())

    def start_seconds(self, note: Note) -> float:
        """Return the second at which `note` begins."""
        return max(0.0, self.clock.seconds_at(note.start) + note.nudge_ms / 1000)

    def end_seconds(self, note: Note) -> float:
        """Return the second at which `note` is let go."""
        return self.clock.seconds_at(note.end)

    def rise_seconds(self, note: Note) -> float | None:
        """Return the time from the start of `note` to its fullest, for swelling tones."""
        if note.rise is None:
            return None
        return self.clock.seconds_at(note.start + note.rise) - self.clock.seconds_at(note.start)
