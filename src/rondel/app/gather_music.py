"""Gather what sounds in a session besides the voice: composed music, or a brought track."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from rondel.app.play_track import BroughtTrack, played_track
from rondel.model.repertoire import Craft
from rondel.model.routine import Routine
from rondel.music.compose import compose
from rondel.music.instruments.tone import Instrument, Stereo
from rondel.music.score import LayerName, Score
from rondel.music.synth import layer_sounds
from rondel.music.tail import silent_end, tail_span

#: Said where ticks are asked for and there is no track to lay them over.
NO_MARKS_NEEDED = (
    "Beat marks were left out: they are for a track that you bring, and composed music has a soft "
    "pulse on every beat already."
)


class Layer(Protocol):
    """One part of the music. Its blocks are asked for in order, from the session's beginning."""

    @property
    def name(self) -> str: ...

    def block(self, start: int, frames: int) -> Stereo:
        """Return frames `start` to `start + frames`, shape (frames, 2) at 48 kHz."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Gathered:
    """The music of a session: what is written of it, its layers, its key, and notes on it.

    `silences` are the seconds in which nothing of it should be heard.
    """

    score: Score
    layers: tuple[Layer, ...]
    key: str
    silences: tuple[tuple[float, float], ...]
    notes: tuple[str, ...] = ()


def gather_music(
    routine: Routine,
    craft: Craft,
    instruments: Mapping[LayerName, Instrument],
    track: BroughtTrack | None,
    *,
    has_beat_marks: bool = False,
) -> Gathered:
    """Return the music of `routine`; `track` is hers where the routine was set to one.

    `has_beat_marks` puts a soft tick on every heard beat of a track. Raises BadInput where the
    track is not the one that the routine was set to.
    """
    if track is None:
        score = compose(routine, craft)
        layers: tuple[Layer, ...] = layer_sounds(score, instruments)
        return Gathered(
            score=score,
            layers=layers,
            key=score.key,
            silences=(silent_end(routine),),
            notes=(NO_MARKS_NEEDED,) if has_beat_marks else (),
        )
    found = played_track(routine, craft, instruments, track, has_beat_marks=has_beat_marks)
    return Gathered(
        score=found.score,
        layers=found.layers,
        key=found.score.key,
        silences=(silent_end(routine),) if tail_span(routine) else (),
        notes=found.notes,
    )
